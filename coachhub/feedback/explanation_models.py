"""Recordings that a coach keeps to explain the same thing again."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from coachhub.accounts.models import User
from coachhub.common.models import PublicModel


class ExplanationQuerySet(models.QuerySet["Explanation"]):
    def visible_to(self, user: User) -> ExplanationQuerySet:
        """A coach's own; a student hears the copy that lies in the answer."""
        return self.filter(coach_id=user.pk) if user.is_authenticated else self.none()


class Explanation(PublicModel):
    """A voice note kept under a title, with a file of its own: put into another answer, it is copied once more."""

    coach = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="explanations")
    title = models.CharField(max_length=80)
    caption = models.TextField(max_length=8000, blank=True)
    audio_key = models.CharField(max_length=200)
    duration_ms = models.PositiveIntegerField()
    uses = models.PositiveIntegerField(default=0)

    objects = ExplanationQuerySet.as_manager()

    class Meta:
        ordering = ("-uses", "title", "id")
        constraints = (
            models.UniqueConstraint(fields=("coach", "title"), name="one_explanation_per_coach_and_title"),
        )
