"""A coach's hello to a cohort: words, and the recording beside them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.conf import settings
from django.db import models
from django.db.models import Q

from coachhub.common.enums import JobState
from coachhub.common.models import JobRow, PublicModel

if TYPE_CHECKING:
    from coachhub.accounts.models import User


class HelloQuerySet(models.QuerySet["Hello"]):
    def visible_to(self, user: User) -> HelloQuerySet:
        """The cohort's people, its camp's organisers, and who reads along with a child in it."""
        from coachhub.accounts.models import Guardianship
        from coachhub.camps.models import Cohort, Membership

        if not user.is_authenticated:
            return self.none()
        children = Membership.objects.filter(user_id__in=Guardianship.objects.read_along(user))
        return self.filter(
            Q(cohort__in=Cohort.objects.visible_to(user)) | Q(cohort_id__in=children.values("cohort_id"))
        )


class Hello(PublicModel):
    """A coach's words to a cohort before the first swing; a recording has them in writing."""

    cohort = models.ForeignKey("camps.Cohort", on_delete=models.CASCADE, related_name="hellos")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.CASCADE, related_name="+")
    words = models.TextField(max_length=2000)

    objects = HelloQuerySet.as_manager()

    class Meta:
        ordering = ("created_at", "id")
        constraints = (
            models.UniqueConstraint(fields=("cohort", "by"), name="one_hello_per_coach_and_cohort"),
            models.CheckConstraint(condition=~Q(words=""), name="a_hello_has_words"),
        )

    @property
    def playable(self) -> HelloRecording | None:
        """The newest that is ready; an older one plays until then."""
        done = [one for one in self.recordings.all() if one.job_state == JobState.DONE]
        return max(done, key=lambda one: one.pk, default=None)

    @property
    def newest(self) -> HelloRecording | None:
        return max(self.recordings.all(), key=lambda one: one.pk, default=None)


class HelloRecordingQuerySet(models.QuerySet["HelloRecording"]):
    def visible_to(self, user: User) -> HelloRecordingQuerySet:
        return self.filter(hello__in=Hello.objects.visible_to(user))


class HelloRecording(PublicModel, JobRow):
    """Sound or a short film; a worker turns what came into a file that plays everywhere."""

    hello = models.ForeignKey(Hello, on_delete=models.CASCADE, related_name="recordings")
    # As it was sent; gone once the other is made.
    source_key = models.CharField(max_length=200, blank=True)
    made_key = models.CharField(max_length=200, blank=True)
    is_film = models.BooleanField(default=False)
    duration_ms = models.PositiveIntegerField(default=0)

    objects = HelloRecordingQuerySet.as_manager()
