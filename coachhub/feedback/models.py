from __future__ import annotations

from django.conf import settings
from django.db import models

from coachhub.accounts.models import Guardianship, User
from coachhub.camps.models import Camp, Cohort
from coachhub.common.models import JobRow, PublicModel
from coachhub.feedback.case_models import Case, CasePost
from coachhub.feedback.enums import (
    ClockMove,
    Layout,
    Lock,
    MarkKind,
    MarkWeight,
    MessageKind,
    PracticeKind,
    ReviewState,
)
from coachhub.feedback.explanation_models import Explanation
from coachhub.feedback.practice_models import ParkedPriority
from coachhub.feedback.reasoning_models import (
    CampMap,
    Chain,
    FindingVersion,
    FindingWord,
    IdeaChange,
    Lesson,
    LessonDelivery,
    Observation,
    Question,
    SayBack,
)
from coachhub.feedback.talk_models import TalkFilm, TalkTake, TalkThrough
from coachhub.swings.models import Readout, Swing
from coachhub.videos.models import Reference, Submission

__all__ = [
    "CampMap",
    "Case",
    "CasePost",
    "Chain",
    "ClockEvent",
    "Comparison",
    "Drill",
    "Explanation",
    "Finding",
    "FindingVersion",
    "FindingWord",
    "IdeaChange",
    "Lesson",
    "LessonDelivery",
    "Mark",
    "Message",
    "Moment",
    "Observation",
    "ParkedPriority",
    "Practice",
    "Question",
    "Review",
    "SayBack",
    "TalkFilm",
    "TalkTake",
    "TalkThrough",
    "Thread",
    "ThreadRead",
    "VoiceNote",
]


class DrillQuerySet(models.QuerySet["Drill"]):
    def visible_to(self, user: User) -> DrillQuerySet:
        """The shared library, and the own drills of the person's camps."""
        if not user.is_authenticated:
            return self.none()
        return self.filter(models.Q(camp=None) | models.Q(camp__in=Camp.objects.visible_to(user)))

    def in_reach(self, camp: Camp | int) -> DrillQuerySet:
        """What can be given in this camp: the shared library and the camp's own, without what was taken out."""
        return self.filter(models.Q(camp=None) | models.Q(camp=camp), retired_at=None)


class Drill(PublicModel):
    key = models.CharField(max_length=40)
    camp = models.ForeignKey(Camp, null=True, blank=True, on_delete=models.CASCADE, related_name="drills")
    # Node of the cause map that it works on, and the sign it belongs to, if one.
    node = models.CharField(max_length=40, blank=True)
    sign = models.CharField(max_length=40, blank=True)
    name = models.CharField(max_length=80)
    how = models.TextField()
    cue = models.CharField(max_length=200)
    club_and_speed = models.CharField(max_length=120, blank=True)
    dose = models.CharField(max_length=160)
    per_week = models.CharField(max_length=40, blank=True)
    progression = models.CharField(max_length=300, blank=True)
    video_check = models.CharField(max_length=300, blank=True)
    stop_rule = models.CharField(max_length=300, blank=True)
    avoid_sites = models.JSONField(default=list, blank=True)
    evidence = models.CharField(max_length=200, blank=True)
    # The key of one of our drawings; empty: the drawing with the drill's own key, if there is one.
    figure = models.CharField(max_length=40, blank=True)
    # A coach's film of it.
    film = models.ForeignKey(Reference, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    # Taken out of the library; answers that gave it go on showing it.
    retired_at = models.DateTimeField(null=True, blank=True)

    objects = DrillQuerySet.as_manager()

    class Meta:
        ordering = ("name",)
        constraints = (
            models.UniqueConstraint(fields=("camp", "key"), name="drill_keys_differ"),
            # Of its own: SQLite takes two missing camps for different ones.
            models.UniqueConstraint(
                fields=("key",), condition=models.Q(camp=None), name="shared_drill_keys_differ"
            ),
        )


class ReviewQuerySet(models.QuerySet["Review"]):
    def visible_to(self, user: User) -> ReviewQuerySet:
        """Staff see those of their students who agree to it; a student and who reads along the published ones."""
        if not user.is_authenticated:
            return self.none()
        sent = Submission.objects.sent_with_consent().filter(cohort__in=Cohort.objects.staffed_by(user))
        own = models.Q(submission__student_id=user.pk) | models.Q(
            submission__student_id__in=Guardianship.objects.read_along(user)
        )
        published = own & models.Q(state=ReviewState.PUBLISHED)
        return self.filter(models.Q(submission__in=sent) | published)

    def writable_by(self, user: User) -> ReviewQuerySet:
        return self.filter(submission__in=Submission.objects.reviewable_by(user))


class Review(PublicModel):
    """The coach's work on one submission, from the queue to the published answer."""

    submission = models.OneToOneField(Submission, on_delete=models.CASCADE, related_name="review")
    state = models.CharField(max_length=9, choices=ReviewState.choices, default=ReviewState.COMING)
    # Raised by conditional updates: two tabs never overwrite each other silently.
    revision = models.PositiveIntegerField(default=0)
    # Which of the browser's saves was the last, so that one whose answer got lost is no stranger's.
    last_save = models.UUIDField(null=True, blank=True)

    claimed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    claimed_at = models.DateTimeField(null=True, blank=True)
    deferred_until = models.DateTimeField(null=True, blank=True)
    deferred_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    private_note = models.TextField(max_length=2000, blank=True)

    # What the queue sorts by.
    has_red_flag = models.BooleanField(default=False)
    has_pain = models.BooleanField(default=False)
    is_first = models.BooleanField(default=False)
    due_at = models.DateTimeField(null=True, blank=True)
    reply_waiting_since = models.DateTimeField(null=True, blank=True)

    words = models.TextField(max_length=8000, blank=True)
    keep = models.CharField(max_length=300, blank=True)
    priority = models.CharField(max_length=300, blank=True)
    cue = models.CharField(max_length=200, blank=True)
    drill = models.ForeignKey(Drill, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    dose = models.CharField(max_length=160, blank=True)

    published_at = models.DateTimeField(null=True, blank=True)
    published_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    # When the mail about the answer left; empty: the sweep sends it.
    mailed_at = models.DateTimeField(null=True, blank=True)
    opened_at = models.DateTimeField(null=True, blank=True)

    objects = ReviewQuerySet.as_manager()

    class Meta:
        indexes = (models.Index(fields=("state", "has_red_flag", "due_at")),)
        constraints = (
            models.CheckConstraint(
                condition=~models.Q(state=ReviewState.PUBLISHED)
                | models.Q(published_at__isnull=False, published_by__isnull=False),
                name="published_by_someone_at_some_time",
            ),
            models.CheckConstraint(
                condition=~models.Q(state=ReviewState.CLAIMED) | models.Q(claimed_by__isnull=False),
                name="claimed_by_someone",
            ),
        )


class ClockEvent(models.Model):
    """A move of the promise clock; together they answer any later dispute."""

    review = models.ForeignKey(Review, on_delete=models.CASCADE, related_name="clock")
    at = models.DateTimeField()
    move = models.CharField(max_length=6, choices=ClockMove.choices)
    reason = models.CharField(max_length=120, blank=True)
    # At the start: what was promised ({"hours", "zone", "rest_days"}). A camp that changes its mind later changes
    # nothing for who was promised something already.
    terms = models.JSONField(default=dict, blank=True)

    class Meta:
        ordering = ("at", "id")


class Finding(Chain):
    """The coach's chain for this submission while it is written, and as it went out."""

    review = models.OneToOneField(Review, on_delete=models.CASCADE, related_name="finding")
    # The root that was taken from the ranking, if one.
    taken_root = models.CharField(max_length=40, blank=True)


class Mark(models.Model):
    """A drawing on a swing: anchored in media time and in shares of the picture's width and height."""

    review = models.ForeignKey(Review, on_delete=models.CASCADE, related_name="marks")
    swing = models.ForeignKey(Swing, on_delete=models.CASCADE, related_name="marks")
    uid = models.UUIDField()
    order = models.PositiveSmallIntegerField(default=0)
    kind = models.CharField(max_length=7, choices=MarkKind.choices)
    points = models.JSONField()
    from_us = models.BigIntegerField()
    to_us = models.BigIntegerField()
    label = models.CharField(max_length=120, blank=True)
    note = models.CharField(max_length=300, blank=True)
    # A joint, or "shaft": the drawing goes with it, and its points are those of the frame at `anchor_us`.
    follows = models.CharField(max_length=20, blank=True)
    anchor_us = models.BigIntegerField(null=True, blank=True)
    weight = models.CharField(max_length=6, choices=MarkWeight.choices, default=MarkWeight.NORMAL)
    is_dashed = models.BooleanField(default=False)

    class Meta:
        ordering = ("order", "id")
        constraints = (
            models.UniqueConstraint(fields=("review", "uid"), name="one_mark_per_uid"),
            models.CheckConstraint(
                condition=models.Q(to_us__gte=models.F("from_us")), name="a_mark_has_a_span"
            ),
        )


class Moment(models.Model):
    """A time in a swing that the coach wants the student to look at, with a sentence."""

    review = models.ForeignKey(Review, on_delete=models.CASCADE, related_name="moments")
    swing = models.ForeignKey(Swing, on_delete=models.CASCADE, related_name="moments")
    uid = models.UUIDField()
    at_us = models.BigIntegerField()
    note = models.CharField(max_length=300)

    class Meta:
        ordering = ("swing_id", "at_us")
        constraints = (models.UniqueConstraint(fields=("review", "uid"), name="one_moment_per_uid"),)


class Comparison(PublicModel):
    """A swing of the submission with another one beside it, as the coach wants the student to see it.

    Readouts, time map and numbers are those of the moment it was kept, and once more of the publishing: a later
    measuring changes nothing of it.
    """

    review = models.ForeignKey(Review, on_delete=models.CASCADE, related_name="comparisons")
    first = models.ForeignKey(Swing, on_delete=models.CASCADE, related_name="+")
    second = models.ForeignKey(Swing, null=True, on_delete=models.SET_NULL, related_name="+")
    first_readout = models.ForeignKey(Readout, null=True, on_delete=models.SET_NULL, related_name="+")
    second_readout = models.ForeignKey(Readout, null=True, on_delete=models.SET_NULL, related_name="+")
    # What the other is called, also when it is gone.
    second_words = models.CharField(max_length=200)
    lock = models.CharField(max_length=6, choices=Lock.choices, default=Lock.EVENTS)
    offset_us = models.BigIntegerField(default=0)
    # {"events": [...], "first_us": [...], "second_us": [...]}; empty where too few events are shared.
    time_map = models.JSONField(default=dict, blank=True)
    layout = models.CharField(max_length=6, choices=Layout.choices, default=Layout.BESIDE)
    opacity = models.PositiveSmallIntegerField(default=50)
    is_mirrored = models.BooleanField(default=False)
    at_us = models.BigIntegerField(default=0)
    note = models.CharField(max_length=300, blank=True)
    shows_numbers = models.BooleanField(default=False)
    numbers = models.JSONField(default=list, blank=True)

    class Meta:
        ordering = ("created_at", "id")
        constraints = (
            models.CheckConstraint(condition=models.Q(opacity__lte=100), name="opacity_is_a_per_cent"),
        )


class VoiceNoteQuerySet(models.QuerySet["VoiceNote"]):
    def visible_to(self, user: User) -> VoiceNoteQuerySet:
        return self.filter(review__in=Review.objects.visible_to(user))


class VoiceNote(PublicModel, JobRow):
    """A recorded voice note; a worker turns what the browser recorded into AAC that plays everywhere."""

    review = models.ForeignKey(Review, on_delete=models.CASCADE, related_name="voice_notes")
    swing = models.ForeignKey(Swing, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    at_us = models.BigIntegerField(default=0)
    source_key = models.CharField(max_length=200)
    audio_key = models.CharField(max_length=200, blank=True)
    duration_ms = models.PositiveIntegerField(default=0)
    caption = models.TextField(max_length=8000, blank=True)

    objects = VoiceNoteQuerySet.as_manager()


class ThreadQuerySet(models.QuerySet["Thread"]):
    def visible_to(self, user: User) -> ThreadQuerySet:
        if not user.is_authenticated:
            return self.none()
        return self.filter(
            models.Q(student_id=user.pk)
            | models.Q(student_id__in=Guardianship.objects.read_along(user))
            | models.Q(cohort__in=Cohort.objects.staffed_by(user))
        )


class Thread(PublicModel):
    """One conversation per student and camp; it follows the student over range sessions."""

    camp = models.ForeignKey(Camp, on_delete=models.CASCADE, related_name="threads")
    cohort = models.ForeignKey(Cohort, on_delete=models.CASCADE, related_name="threads")
    student = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="threads")

    objects = ThreadQuerySet.as_manager()

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("camp", "student"), name="one_thread_per_student_and_camp"),
        )


class Message(PublicModel):
    thread = models.ForeignKey(Thread, on_delete=models.CASCADE, related_name="messages")
    author = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    kind = models.CharField(max_length=8, choices=MessageKind.choices)
    review = models.ForeignKey(
        Review, null=True, blank=True, on_delete=models.CASCADE, related_name="messages"
    )
    text = models.TextField(max_length=4000, blank=True)

    class Meta:
        ordering = ("created_at", "id")
        constraints = (
            models.UniqueConstraint(
                fields=("review",),
                condition=models.Q(kind=MessageKind.FEEDBACK),
                name="one_answer_per_review",
            ),
        )


class ThreadRead(models.Model):
    thread = models.ForeignKey(Thread, on_delete=models.CASCADE, related_name="reads")
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    read_until = models.DateTimeField()

    class Meta:
        constraints = (models.UniqueConstraint(fields=("thread", "user"), name="one_bookmark_per_reader"),)


class PracticeQuerySet(models.QuerySet["Practice"]):
    def visible_to(self, user: User) -> PracticeQuerySet:
        lessons = LessonDelivery.objects.filter(message__thread__in=Thread.objects.visible_to(user))
        return self.filter(
            models.Q(review__in=Review.objects.visible_to(user)) | models.Q(delivery__in=lessons)
        )

    def of(self, student: User | int, camp: Camp | int | None = None) -> PracticeQuerySet:
        """A student's own, with the drills of answers and of lessons."""
        answers = models.Q(review__submission__student=student)
        lessons = models.Q(delivery__message__thread__student=student)
        if camp is not None:
            answers &= models.Q(review__submission__camp=camp)
            lessons &= models.Q(delivery__message__thread__camp=camp)
        return self.filter(answers | lessons)

    def with_drills(self) -> PracticeQuerySet:
        return self.select_related("review__drill", "delivery__lesson__drill")


class Practice(PublicModel):
    """What a student says of the drill of an answer or a lesson: practised, not understood, or hurting."""

    review = models.ForeignKey(
        Review, null=True, blank=True, on_delete=models.CASCADE, related_name="practice"
    )
    delivery = models.ForeignKey(
        LessonDelivery, null=True, blank=True, on_delete=models.CASCADE, related_name="practice"
    )
    kind = models.CharField(max_length=7, choices=PracticeKind.choices)
    on_day = models.DateField()
    balls = models.PositiveSmallIntegerField(null=True, blank=True)
    note = models.CharField(max_length=500, blank=True)

    objects = PracticeQuerySet.as_manager()

    class Meta:
        ordering = ("-on_day", "-id")
        constraints = (
            models.CheckConstraint(
                condition=models.Q(review__isnull=False, delivery__isnull=True)
                | models.Q(review__isnull=True, delivery__isnull=False),
                name="practice_of_an_answer_or_a_lesson",
            ),
        )

    @property
    def drill(self) -> Drill | None:
        if self.review is not None:
            return self.review.drill
        assert self.delivery is not None
        return self.delivery.lesson.drill
