"""Cases: a swing or a talk-through of one student, covered, shown to others."""

from __future__ import annotations

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from coachhub.accounts.models import Guardianship, User
from coachhub.camps.models import Cohort
from coachhub.common.models import JobRow, PublicModel
from coachhub.feedback.enums import CaseState
from coachhub.swings.models import Swing


class CaseQuerySet(models.QuerySet["Case"]):
    def visible_to(self, user: User) -> CaseQuerySet:
        """Who coaches or organises the cohort; once approved also whom it shows; once posted those it went to.

        Who reads along with one of them sees it too.
        """
        if not user.is_authenticated:
            return self.none()
        children = Guardianship.objects.read_along(user)
        shown = Q(student_id=user.pk) | Q(student_id__in=children)
        posts = CasePost.objects.filter(Q(student_id=user.pk) | Q(student_id__in=children))
        return self.filter(
            Q(cohort__in=Cohort.objects.staffed_by(user))
            | (shown & ~Q(state=CaseState.DRAFT))
            | Q(state=CaseState.POSTED, pk__in=posts.values("case_id"))
        )

    def made_by(self, user: User) -> CaseQuerySet:
        """Those of the cohorts that the person coaches."""
        return self.filter(cohort__in=Cohort.objects.coached_by(user))


class Case(PublicModel, JobRow):
    """A worker makes the covered film, a person looks at every frame of it, and only then it can be posted."""

    cohort = models.ForeignKey(Cohort, on_delete=models.CASCADE, related_name="cases")
    student = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="cases")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+")
    swing = models.ForeignKey(Swing, null=True, blank=True, on_delete=models.CASCADE, related_name="cases")
    talk = models.ForeignKey(
        "feedback.TalkThrough", null=True, blank=True, on_delete=models.CASCADE, related_name="cases"
    )
    state = models.CharField(max_length=8, choices=CaseState.choices, default=CaseState.DRAFT)
    title = models.CharField(max_length=120)
    words = models.TextField(max_length=4000)
    # Radius of the cover over the head, in head lengths.
    margin = models.FloatField(default=1.0, validators=[MinValueValidator(1.0), MaxValueValidator(3.0)])
    # film.mp4, poster.jpg and sheet-01.jpg ... stand in it.
    folder_key = models.CharField(max_length=200, blank=True)
    # What the covering said of itself: frames, sheets as [first, last] frame, frames covered wholly.
    facts = models.JSONField(default=dict, blank=True)
    # Numbers of the sheets that a person looked at; of these files, a new covering starts over.
    looked = models.JSONField(default=list, blank=True)
    approved_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    approved_at = models.DateTimeField(null=True, blank=True)
    posted_at = models.DateTimeField(null=True, blank=True)
    # The choice of whom it shows, and of nobody else; never of a minor.
    shows_name = models.BooleanField(default=False)

    objects = CaseQuerySet.as_manager()

    class Meta:
        ordering = ("-created_at", "-id")
        constraints = (
            models.CheckConstraint(
                condition=Q(swing__isnull=False, talk__isnull=True)
                | Q(swing__isnull=True, talk__isnull=False),
                name="a_case_shows_a_swing_or_a_talk",
            ),
            models.CheckConstraint(
                condition=Q(state=CaseState.DRAFT) | (Q(approved_at__isnull=False) & ~Q(folder_key="")),
                name="nothing_is_shown_unlooked",
            ),
        )


class CasePost(models.Model):
    """To whom a case went, with the line in the own talk that says so."""

    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="posts")
    student = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    message = models.OneToOneField("feedback.Message", on_delete=models.CASCADE, related_name="case_post")

    class Meta:
        constraints = (models.UniqueConstraint(fields=("case", "student"), name="a_case_goes_to_each_once"),)
