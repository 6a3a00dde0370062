from __future__ import annotations

from datetime import datetime

from django.conf import settings
from django.db import models

from coachhub.accounts.models import User
from coachhub.common.models import JobRow, PublicModel
from coachhub.swings.enums import SignLevel, SwingEvent, Verdict
from coachhub.videos.models import Clip


class AnalysisRun(JobRow):
    """One measuring of one content by one version with one model and one set of parameters."""

    clip_digest = models.CharField(max_length=64)
    code_version = models.CharField(max_length=40)
    model_digest = models.CharField(max_length=64)
    parameters = models.JSONField(default=dict)
    parameters_digest = models.CharField(max_length=64)
    source_key = models.CharField(max_length=200)
    # Folder in storage with readout.json, tracks.json and what a correction needs to measure again.
    result_key = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = (
            models.UniqueConstraint(
                fields=("clip_digest", "code_version", "model_digest", "parameters_digest"),
                name="measured_once",
            ),
        )
        indexes = (models.Index(fields=("job_state", "queued_at")),)


class Measurement(models.Model):
    """Which run speaks for a clip now. Several clips of equal content share one run."""

    clip = models.OneToOneField(Clip, on_delete=models.CASCADE, related_name="measurement")
    run = models.ForeignKey(AnalysisRun, on_delete=models.PROTECT, related_name="measurements")


class SwingQuerySet(models.QuerySet["Swing"]):
    def visible_to(self, user: User) -> SwingQuerySet:
        if not user.is_authenticated:
            return self.none()
        return self.filter(clip__in=Clip.objects.visible_to(user))


class Swing(PublicModel):
    clip = models.ForeignKey(Clip, on_delete=models.CASCADE, related_name="swings")
    number = models.PositiveSmallIntegerField()
    start_s = models.FloatField()
    end_s = models.FloatField()

    objects = SwingQuerySet.as_manager()

    class Meta:
        ordering = ("clip_id", "number")
        constraints = (
            models.UniqueConstraint(fields=("clip", "number"), name="swings_are_numbered"),
            models.CheckConstraint(
                condition=models.Q(end_s__gt=models.F("start_s")), name="a_swing_takes_time"
            ),
        )


class ReadoutQuerySet(models.QuerySet["Readout"]):
    def shown(self, as_of: datetime | None = None) -> ReadoutQuerySet:
        """One for each swing: the current one, or the one that was current at a time."""
        if as_of is None:
            return self.filter(is_current=True)
        then = Readout.objects.filter(swing=models.OuterRef("swing"), created_at__lte=as_of)
        return self.filter(pk=models.Subquery(then.order_by("-created_at", "-pk").values("pk")[:1]))

    def visible_to(self, user: User) -> ReadoutQuerySet:
        return self.filter(swing__in=Swing.objects.visible_to(user))

    def of_strikes(self) -> ReadoutQuerySet:
        """Without practice swings; readouts from before these were told apart stay in."""
        untold = models.Q(data__strike__isnull=True)
        return self.filter(untold | ~models.Q(data__strike__kind="practice"))


class Readout(PublicModel):
    """The measured numbers of one swing; revision 0 is the machine's, later ones follow corrections."""

    swing = models.ForeignKey(Swing, on_delete=models.CASCADE, related_name="readouts")
    run = models.ForeignKey(AnalysisRun, on_delete=models.PROTECT, related_name="readouts")
    revision = models.PositiveSmallIntegerField(default=0)
    is_current = models.BooleanField(default=True)
    data = models.JSONField()
    # The camp's bands its signs were judged with; 0: as shipped.
    bands_number = models.PositiveIntegerField(default=0)

    objects = ReadoutQuerySet.as_manager()

    class Meta:
        ordering = ("swing_id", "-revision")
        constraints = (
            models.UniqueConstraint(fields=("swing", "run", "revision"), name="readout_revisions_differ"),
            models.UniqueConstraint(
                fields=("swing",), condition=models.Q(is_current=True), name="one_current_readout_per_swing"
            ),
        )


class SignFlag(models.Model):
    """One row per sign of a readout, so that cohorts can be counted without opening every readout."""

    readout = models.ForeignKey(Readout, on_delete=models.CASCADE, related_name="flags")
    sign = models.CharField(max_length=40)
    level = models.CharField(max_length=9, choices=SignLevel.choices)
    probability = models.FloatField(null=True, blank=True)

    class Meta:
        constraints = (models.UniqueConstraint(fields=("readout", "sign"), name="one_flag_per_sign"),)
        indexes = (models.Index(fields=("sign", "level")),)


class SignJudgement(PublicModel):
    """What a coach says of a sign of a swing; also for a sign that was not flagged."""

    swing = models.ForeignKey(Swing, on_delete=models.CASCADE, related_name="judgements")
    sign = models.CharField(max_length=40)
    verdict = models.CharField(max_length=9, choices=Verdict.choices)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    at_s = models.FloatField(null=True, blank=True)

    class Meta:
        constraints = (models.UniqueConstraint(fields=("swing", "sign", "by"), name="one_verdict_per_coach"),)


class EventCorrection(PublicModel):
    """The latest time a coach set for an event of a swing."""

    swing = models.ForeignKey(Swing, on_delete=models.CASCADE, related_name="corrections")
    event = models.CharField(max_length=30, choices=SwingEvent.choices)
    t_s = models.FloatField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")

    class Meta:
        constraints = (models.UniqueConstraint(fields=("swing", "event"), name="one_correction_per_event"),)


class JointCorrection(PublicModel):
    """Where a coach put a joint in one frame of a swing, in shares of the picture."""

    swing = models.ForeignKey(Swing, on_delete=models.CASCADE, related_name="joint_corrections")
    joint = models.CharField(max_length=20)
    t_us = models.BigIntegerField()
    x = models.FloatField()
    y = models.FloatField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")

    class Meta:
        ordering = ("t_us", "joint")
        constraints = (
            models.UniqueConstraint(fields=("swing", "joint", "t_us"), name="one_place_per_joint_and_frame"),
            models.CheckConstraint(
                condition=models.Q(x__gte=0, x__lte=1, y__gte=0, y__lte=1), name="a_joint_is_in_the_picture"
            ),
        )
