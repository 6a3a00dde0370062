from __future__ import annotations

from django.conf import settings
from django.db import models

from coachhub.accounts.enums import Hand, Purpose
from coachhub.accounts.models import Guardianship, StandingConsent, User
from coachhub.camps.models import Camp, Cohort
from coachhub.common.models import JobRow, PublicModel
from coachhub.videos.enums import (
    MOST_CLIPS,
    ClipState,
    ClipWork,
    ClubClass,
    MissCurve,
    MissHeight,
    MissStart,
    MissStrike,
    ReferenceKind,
    SubmissionState,
    UploadState,
    View,
)

# A film belongs to what a student sends, or to a coach's library.
_ONE_HOME = models.Q(submission__isnull=False, reference__isnull=True) | models.Q(
    submission__isnull=True, reference__isnull=False
)
# Sound of a coach's talk comes the same way, though it is no film.
_ONE_AIM = (_ONE_HOME & models.Q(talk__isnull=True)) | models.Q(
    submission__isnull=True, reference__isnull=True, talk__isnull=False
)


class SubmissionQuerySet(models.QuerySet["Submission"]):
    def visible_to(self, user: User) -> SubmissionQuerySet:
        """The student's own and the children's, and those of cohorts the person coaches or organises.

        Staff see those of students who agree to it, as long as they do.
        """
        if not user.is_authenticated:
            return self.none()
        own = models.Q(student_id=user.pk) | models.Q(student_id__in=Guardianship.objects.read_along(user))
        sent = self.model._default_manager.sent_with_consent().filter(
            cohort__in=Cohort.objects.staffed_by(user)
        )
        return self.filter(own | models.Q(pk__in=sent.values("pk")))

    def sent_with_consent(self) -> SubmissionQuerySet:
        agreeing = StandingConsent.objects.people(Purpose.FEEDBACK)
        return self.filter(student_id__in=agreeing).exclude(state=SubmissionState.OPEN)

    def reviewable_by(self, user: User) -> SubmissionQuerySet:
        return self.sent_with_consent().filter(cohort__in=Cohort.objects.coached_by(user))


class Submission(PublicModel):
    """What a student sends after one range session: one to six clips, one club, one answer."""

    camp = models.ForeignKey(Camp, on_delete=models.CASCADE, related_name="submissions")
    cohort = models.ForeignKey(Cohort, on_delete=models.CASCADE, related_name="submissions")
    student = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="submissions"
    )
    state = models.CharField(max_length=9, choices=SubmissionState.choices, default=SubmissionState.OPEN)
    range_day = models.DateField()
    club_class = models.CharField(max_length=7, choices=ClubClass.choices)
    miss_start = models.CharField(max_length=10, choices=MissStart.choices, blank=True)
    miss_curve = models.CharField(max_length=10, choices=MissCurve.choices, blank=True)
    miss_strike = models.CharField(max_length=10, choices=MissStrike.choices, blank=True)
    miss_height = models.CharField(max_length=10, choices=MissHeight.choices, blank=True)
    intents = models.JSONField(default=list, blank=True)
    intent_words = models.TextField(max_length=1000, blank=True)
    note = models.TextField(max_length=2000, blank=True)
    pain_today = models.BooleanField(default=False)
    pain_words = models.TextField(max_length=1000, blank=True)
    red_flags = models.JSONField(default=list, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    settled_at = models.DateTimeField(null=True, blank=True)

    objects = SubmissionQuerySet.as_manager()

    class Meta:
        ordering = ("-created_at", "-id")
        indexes = (
            models.Index(fields=("cohort", "state")),
            models.Index(fields=("student", "camp", "range_day")),
        )


class ReferenceQuerySet(models.QuerySet["Reference"]):
    def usable_by(self, user: User) -> ReferenceQuerySet:
        """What a coach may set beside a student's swing: the own ones, and those shared in the own camps."""
        if not user.is_authenticated:
            return self.none()
        camps = Cohort.objects.coached_by(user).values("camp_id")
        return self.filter(models.Q(owner_id=user.pk) | models.Q(is_shared=True, camp_id__in=camps))

    def visible_to(self, user: User) -> ReferenceQuerySet:
        """Also what a published answer shows this person."""
        if not user.is_authenticated:
            return self.none()
        children = Guardianship.objects.read_along(user)
        shown = Reference.shown_to.through.objects.filter(
            models.Q(user_id=user.pk) | models.Q(user_id__in=children)
        ).values("reference_id")
        usable = Reference.objects.usable_by(user).values("pk")
        return self.filter(models.Q(pk__in=usable) | models.Q(pk__in=shown))


class Reference(PublicModel):
    """A swing or a short demonstration in a coach's library, to be set beside what students send."""

    camp = models.ForeignKey(Camp, on_delete=models.CASCADE, related_name="references")
    owner = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="references")
    kind = models.CharField(max_length=8, choices=ReferenceKind.choices, default=ReferenceKind.SWING)
    title = models.CharField(max_length=80)
    view = models.CharField(max_length=7, choices=View.choices)
    # Empty: a demonstration without a club.
    club_class = models.CharField(max_length=7, choices=ClubClass.choices, blank=True)
    handedness = models.CharField(max_length=5, choices=Hand.choices, default=Hand.RIGHT)
    # Who is in the picture, and who agreed to its use here: the owner's word, kept with the film.
    rights = models.CharField(max_length=300)
    note = models.CharField(max_length=300, blank=True)
    is_shared = models.BooleanField(default=False)
    # Students whose published answers show it.
    shown_to = models.ManyToManyField(settings.AUTH_USER_MODEL, related_name="+", blank=True)

    objects = ReferenceQuerySet.as_manager()

    class Meta:
        ordering = ("title", "id")
        indexes = (models.Index(fields=("camp", "is_shared")),)

    @property
    def needs_swing(self) -> bool:
        return self.kind == ReferenceKind.SWING


class ClipQuerySet(models.QuerySet["Clip"]):
    def visible_to(self, user: User) -> ClipQuerySet:
        if not user.is_authenticated:
            return self.none()
        sent = models.Q(submission__in=Submission.objects.visible_to(user))
        return self.filter(sent | models.Q(reference__in=Reference.objects.visible_to(user)))


class Clip(PublicModel):
    """A film on its way to numbers: one of a submission's, or that of a reference."""

    submission = models.ForeignKey(
        Submission, null=True, blank=True, on_delete=models.CASCADE, related_name="clips"
    )
    reference = models.OneToOneField(
        Reference, null=True, blank=True, on_delete=models.CASCADE, related_name="clip"
    )
    number = models.PositiveSmallIntegerField()
    view = models.CharField(max_length=7, choices=View.choices)
    state = models.CharField(max_length=8, choices=ClipState.choices, default=ClipState.RECEIVED)
    refused_code = models.CharField(max_length=60, blank=True)
    refused_text = models.TextField(blank=True)
    # Things worth saying that don't refuse the clip: [{"code", "sentence"}].
    warnings = models.JSONField(default=list, blank=True)
    file_name = models.CharField(max_length=120, blank=True)
    sha256 = models.CharField(max_length=64, db_index=True)
    size = models.PositiveBigIntegerField()
    original_key = models.CharField(max_length=200)
    original_deleted_at = models.DateTimeField(null=True, blank=True)
    rendition_key = models.CharField(max_length=200, blank=True)
    poster_key = models.CharField(max_length=200, blank=True)
    # JSON in storage: frame times in microseconds, sample table for the browser's decoder, waveform peaks.
    index_key = models.CharField(max_length=200, blank=True)
    duration_s = models.FloatField(null=True, blank=True)
    fps = models.FloatField(null=True, blank=True)
    frame_count = models.PositiveIntegerField(null=True, blank=True)
    width = models.PositiveIntegerField(null=True, blank=True)
    height = models.PositiveIntegerField(null=True, blank=True)
    codec = models.CharField(max_length=20, blank=True)
    has_audio = models.BooleanField(default=False)

    objects = ClipQuerySet.as_manager()

    class Meta:
        ordering = ("submission_id", "number")
        constraints = (
            models.UniqueConstraint(fields=("submission", "number"), name="clips_are_numbered"),
            models.UniqueConstraint(fields=("submission", "sha256"), name="a_clip_is_sent_once"),
            models.CheckConstraint(
                condition=models.Q(number__gte=1, number__lte=MOST_CLIPS), name="one_to_six_clips"
            ),
            models.CheckConstraint(condition=_ONE_HOME, name="a_clip_has_one_home"),
        )

    @property
    def home(self) -> Submission | Reference:
        home = self.submission or self.reference
        assert home is not None
        return home

    @property
    def camp(self) -> Camp:
        return self.home.camp

    @property
    def club_class(self) -> str:
        return self.home.club_class


class KeptVideosQuerySet(models.QuerySet["KeptVideos"]):
    def visible_to(self, user: User) -> KeptVideosQuerySet:
        """The student's own and the children's; staff see it in the camp's preview."""
        if not user.is_authenticated:
            return self.none()
        children = Guardianship.objects.read_along(user)
        return self.filter(models.Q(student_id=user.pk) | models.Q(student_id__in=children))


class KeptVideos(PublicModel):
    """A student wants the videos of a camp kept for a year more."""

    student = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="kept_videos"
    )
    camp = models.ForeignKey(Camp, on_delete=models.CASCADE, related_name="+")

    objects = KeptVideosQuerySet.as_manager()

    class Meta:
        constraints = (models.UniqueConstraint(fields=("student", "camp"), name="videos_are_kept_once"),)


class ClipJob(JobRow):
    """One piece of media work on one clip: `check`, then `rendition` beside the measuring."""

    clip = models.ForeignKey(Clip, on_delete=models.CASCADE, related_name="jobs")
    work = models.CharField(max_length=9, choices=ClipWork.choices)

    class Meta:
        constraints = (models.UniqueConstraint(fields=("clip", "work"), name="one_job_of_a_kind_per_clip"),)
        indexes = (models.Index(fields=("job_state", "queued_at")),)


class UploadQuerySet(models.QuerySet["Upload"]):
    def visible_to(self, user: User) -> UploadQuerySet:
        return self.filter(owner_id=user.pk) if user.is_authenticated else self.none()


class Upload(PublicModel):
    """A file on its way in, possibly over hours and in many pieces."""

    owner = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="uploads")
    submission = models.ForeignKey(
        Submission, null=True, blank=True, on_delete=models.CASCADE, related_name="uploads"
    )
    reference = models.ForeignKey(
        Reference, null=True, blank=True, on_delete=models.CASCADE, related_name="uploads"
    )
    # A take of a talk: ids of the review and of the talk, and the take's number.
    for_review = models.UUIDField(null=True, blank=True)
    talk = models.UUIDField(null=True, blank=True)
    take = models.PositiveSmallIntegerField(null=True, blank=True)
    view = models.CharField(max_length=7, choices=View.choices, blank=True)
    state = models.CharField(max_length=8, choices=UploadState.choices, default=UploadState.GROWING)
    length = models.PositiveBigIntegerField()
    offset = models.PositiveBigIntegerField(default=0)
    file_name = models.CharField(max_length=120, blank=True)
    # What the phone found before sending: length, rate, size, light; for the record, never trusted.
    phone_report = models.JSONField(default=dict, blank=True)
    expires_at = models.DateTimeField()
    locked_until = models.DateTimeField(null=True, blank=True)
    clip = models.ForeignKey(Clip, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    # Why a complete upload became no clip of its own (the same clip twice, a seventh clip).
    refused_text = models.TextField(blank=True)

    objects = UploadQuerySet.as_manager()

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=models.Q(offset__lte=models.F("length")), name="no_upload_past_its_end"
            ),
            models.CheckConstraint(condition=_ONE_AIM, name="an_upload_has_one_home"),
        )

    @property
    def home(self) -> Submission | Reference:
        home = self.submission or self.reference
        assert home is not None
        return home
