from __future__ import annotations

from django.conf import settings
from django.db import models

from coachhub.camps.models import Camp
from coachhub.common.models import PublicModel
from coachhub.feedback.enums import ParkedState


class ParkedPriority(PublicModel):
    """Something else to work on, seen and kept for later: a student works on one thing at a time."""

    camp = models.ForeignKey(Camp, on_delete=models.CASCADE, related_name="parked_priorities")
    student = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    words = models.CharField(max_length=300)
    state = models.CharField(max_length=8, choices=ParkedState.choices, default=ParkedState.PARKED)
    ended_at = models.DateTimeField(null=True, blank=True)
    # The answer whose one thing it became.
    review = models.ForeignKey(
        "feedback.Review", null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )

    class Meta:
        ordering = ("created_at", "id")
        constraints = (
            models.CheckConstraint(
                condition=models.Q(state="parked", ended_at__isnull=True)
                | (~models.Q(state="parked") & models.Q(ended_at__isnull=False)),
                name="parked_until_it_ends",
            ),
        )
