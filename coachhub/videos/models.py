from __future__ import annotations

from django.conf import settings
from django.db import models

from coachhub.accounts.models import User
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
    SubmissionState,
    UploadState,
    View,
)


class SubmissionQuerySet(models.QuerySet["Submission"]):
    def visible_to(self, user: User) -> SubmissionQuerySet:
        """The student's own, and those of cohorts the person coaches or organises."""
        if not user.is_authenticated:
            return self.none()
        sent = models.Q(cohort__in=Cohort.objects.staffed_by(user)) & ~models.Q(state=SubmissionState.OPEN)
        return self.filter(models.Q(student_id=user.pk) | sent)

    def reviewable_by(self, user: User) -> SubmissionQuerySet:
        return self.filter(cohort__in=Cohort.objects.coached_by(user)).exclude(state=SubmissionState.OPEN)


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


class ClipQuerySet(models.QuerySet["Clip"]):
    def visible_to(self, user: User) -> ClipQuerySet:
        if not user.is_authenticated:
            return self.none()
        return self.filter(submission__in=Submission.objects.visible_to(user))


class Clip(PublicModel):
    submission = models.ForeignKey(Submission, on_delete=models.CASCADE, related_name="clips")
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
        )


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
    submission = models.ForeignKey(Submission, on_delete=models.CASCADE, related_name="uploads")
    view = models.CharField(max_length=7, choices=View.choices)
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
        )
