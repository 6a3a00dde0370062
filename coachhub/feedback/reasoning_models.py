"""The coach's reasoning as rows: findings and their history, what the eye saw, questions, ideas, lessons, own maps.

Part of ``feedback.models``, which brings these names in; reviews and messages are named by their label here.
"""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Q

from coachhub.accounts.models import Guardianship, User
from coachhub.camps.models import Camp, Cohort
from coachhub.common.models import PublicModel
from coachhub.feedback.enums import Confidence, Fate, Grasp, Ground, Reading, RootKind, VersionKind
from coachhub.swings.models import Swing
from coachhub.videos.models import Clip


def _person() -> Any:
    return models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")


class OfReviews(models.QuerySet[Any]):
    def visible_to(self, user: User) -> OfReviews:
        from coachhub.feedback.models import Review

        return self.filter(review__in=Review.objects.visible_to(user))


class Chain(models.Model):
    """Miss, mechanism, root: nodes of the cause map or own words, each with the frame that shows it."""

    miss = models.CharField(max_length=200, blank=True)
    mechanism_node = models.CharField(max_length=40, blank=True)
    mechanism = models.CharField(max_length=300, blank=True)
    root_kind = models.CharField(max_length=9, choices=RootKind.choices, blank=True)
    root_node = models.CharField(max_length=40, blank=True)
    root = models.CharField(max_length=300, blank=True)
    confidence = models.CharField(max_length=6, choices=Confidence.choices, blank=True)
    # {"mechanism": {"swing": public id, "at_us": microseconds}, ...}; a link without a frame is missing here.
    frames = models.JSONField(default=dict, blank=True)

    class Meta:
        abstract = True


class CampMapQuerySet(models.QuerySet["CampMap"]):
    def visible_to(self, user: User) -> CampMapQuerySet:
        return self.filter(camp__in=Cohort.objects.staffed_by(user).values("camp_id"))


class CampMap(PublicModel):
    """What a camp's coaches changed of the shipped cause map: one row for each change, none is ever rewritten."""

    camp = models.ForeignKey(Camp, on_delete=models.CASCADE, related_name="cause_maps")
    number = models.PositiveIntegerField()
    # Digest of the shipped map under it.
    base = models.CharField(max_length=16)
    # {"off": ["cause>effect"], "nodes": [...], "edges": [...], "questions": {node: {...}}}
    changes = models.JSONField(default=dict)
    what = models.CharField(max_length=200)
    by = _person()

    objects = CampMapQuerySet.as_manager()

    class Meta:
        ordering = ("camp_id", "number")
        constraints = (models.UniqueConstraint(fields=("camp", "number"), name="camp_maps_are_numbered"),)


class FindingVersion(Chain, PublicModel):
    """A finding as one coach gave it at one time. Written once; what became of it is said by ``FindingWord`` rows."""

    review = models.ForeignKey("feedback.Review", on_delete=models.CASCADE, related_name="finding_versions")
    number = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=7, choices=VersionKind.choices, default=VersionKind.ANSWER)
    by = _person()
    follows = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.SET_NULL, related_name="followed_by"
    )
    # As the student said it, with club and hand; and as nodes in lead and trail words.
    miss_said = models.JSONField(default=dict, blank=True)
    miss_nodes = models.JSONField(default=list, blank=True)
    # The steps from root to miss in the words and grades of their time: [{"from", "to", "relation", "grade", "how"}]
    links = models.JSONField(default=list, blank=True)
    map = models.ForeignKey(CampMap, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    map_name = models.CharField(max_length=60, blank=True)
    # Roots that the ranking offered, and the place of the coach's root among them: 0 none of them, empty: not counted.
    offered = models.JSONField(default=list, blank=True)
    place = models.PositiveSmallIntegerField(null=True, blank=True)
    was_edited = models.BooleanField(default=False)

    objects = OfReviews.as_manager()

    class Meta:
        ordering = ("review_id", "number")
        constraints = (
            models.UniqueConstraint(fields=("review", "number"), name="finding_versions_are_numbered"),
            models.UniqueConstraint(
                fields=("review",), condition=Q(kind=VersionKind.ANSWER), name="one_answered_finding"
            ),
        )

    def save(self, *args: Any, **kwargs: Any) -> None:
        if self.pk is not None:
            raise ValueError("a finding version must not be written twice")
        super().save(*args, **kwargs)


class FindingWord(PublicModel):
    """What the coach says of an earlier finding at a later submission; the newest row counts, all stay."""

    version = models.ForeignKey(FindingVersion, on_delete=models.CASCADE, related_name="said_later")
    review = models.ForeignKey("feedback.Review", on_delete=models.CASCADE, related_name="words_on_earlier")
    fate = models.CharField(max_length=9, choices=Fate.choices)
    by = _person()

    objects = OfReviews.as_manager()

    class Meta:
        ordering = ("created_at", "id")


class Observation(PublicModel):
    """What a coach saw by eye, or saw not to be so, with the frame: counts like a confirmed or dismissed sign."""

    review = models.ForeignKey("feedback.Review", on_delete=models.CASCADE, related_name="observations")
    swing = models.ForeignKey(
        Swing, null=True, blank=True, on_delete=models.SET_NULL, related_name="observations"
    )
    at_us = models.BigIntegerField(null=True, blank=True)
    # A look ("lead_wrist_top") and what was seen ("cupped"); or "node" and a node of the map, "not_node" and one.
    look = models.CharField(max_length=20)
    value = models.CharField(max_length=40)
    by = _person()

    objects = OfReviews.as_manager()

    class Meta:
        ordering = ("id",)


class Question(PublicModel):
    """What a coach asked before answering, about a node of the map or freely, and what the student said."""

    review = models.ForeignKey("feedback.Review", on_delete=models.CASCADE, related_name="questions")
    node = models.CharField(max_length=40, blank=True)
    asked = models.OneToOneField("feedback.Message", on_delete=models.CASCADE, related_name="question")
    answer = models.ForeignKey(
        "feedback.Message", null=True, blank=True, on_delete=models.SET_NULL, related_name="answers"
    )
    # Belief nodes that the student chose beside the own words.
    chosen = models.JSONField(default=list, blank=True)
    reading = models.CharField(max_length=6, choices=Reading.choices, blank=True)
    read_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )

    objects = OfReviews.as_manager()

    class Meta:
        ordering = ("id",)


class IdeaChange(models.Model):
    """How an answer changes an idea: the better one, what to look at in two pictures, and what to say back."""

    review = models.OneToOneField("feedback.Review", on_delete=models.CASCADE, related_name="idea_change")
    better_idea = models.CharField(max_length=600, blank=True)
    look = models.CharField(max_length=300, blank=True)
    say_back = models.CharField(max_length=200, blank=True)
    own_swing = models.ForeignKey(Swing, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    own_us = models.BigIntegerField(null=True, blank=True)
    demo_clip = models.ForeignKey(Clip, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    demo_us = models.BigIntegerField(null=True, blank=True)

    @property
    def is_empty(self) -> bool:
        return not (self.better_idea or self.look or self.say_back or self.own_swing_id or self.demo_clip_id)


class SayBack(PublicModel):
    """The better idea in the student's own words, and the coach's word on it."""

    review = models.ForeignKey("feedback.Review", on_delete=models.CASCADE, related_name="say_backs")
    message = models.OneToOneField("feedback.Message", on_delete=models.CASCADE, related_name="say_back")
    grasp = models.CharField(max_length=10, choices=Grasp.choices, blank=True)
    judged_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    judged_at = models.DateTimeField(null=True, blank=True)

    objects = OfReviews.as_manager()

    class Meta:
        ordering = ("id",)


class LessonQuerySet(models.QuerySet["Lesson"]):
    def visible_to(self, user: User) -> LessonQuerySet:
        if not user.is_authenticated:
            return self.none()
        staffed = Cohort.objects.staffed_by(user)
        return self.filter(
            Q(deliveries__message__thread__cohort__in=staffed)
            | Q(deliveries__message__thread__student_id=user.pk)
            | Q(deliveries__message__thread__student_id__in=Guardianship.objects.read_along(user))
        ).distinct()


class Lesson(PublicModel):
    """One explanation for everybody with the same miss, sign or idea; each gets it in the own thread."""

    camp = models.ForeignKey(Camp, on_delete=models.CASCADE, related_name="lessons")
    by = _person()
    ground = models.CharField(max_length=4, choices=Ground.choices)
    key = models.CharField(max_length=40)
    text = models.TextField(max_length=4000)
    drill = models.ForeignKey(
        "feedback.Drill", null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    clip = models.ForeignKey(Clip, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    at_us = models.BigIntegerField(null=True, blank=True)

    objects = LessonQuerySet.as_manager()

    class Meta:
        ordering = ("-created_at", "-id")


class LessonDelivery(models.Model):
    lesson = models.ForeignKey(Lesson, on_delete=models.CASCADE, related_name="deliveries")
    message = models.OneToOneField("feedback.Message", on_delete=models.CASCADE, related_name="lesson")
    # False where the student's pain forbids it.
    with_drill = models.BooleanField(default=False)
