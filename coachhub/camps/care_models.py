"""What a camp minds about its minors: how much they may hit, and concerns that a guardian reports."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from coachhub.camps.enums import ConcernState
from coachhub.common.models import PublicModel

if TYPE_CHECKING:
    from coachhub.accounts.models import User

BALLS_PER_DAY = 40
DAYS_PER_WEEK = 4
INTAKE_WEEKS = 8


class CampCare(PublicModel):
    """A camp's own bounds; without a row the usual ones hold."""

    camp = models.OneToOneField("camps.Camp", on_delete=models.CASCADE, related_name="care")
    balls_per_day = models.PositiveSmallIntegerField(
        default=BALLS_PER_DAY, validators=[MinValueValidator(5), MaxValueValidator(200)]
    )
    days_per_week = models.PositiveSmallIntegerField(
        default=DAYS_PER_WEEK, validators=[MinValueValidator(1), MaxValueValidator(6)]
    )
    # After so many weeks the intake is asked again.
    intake_weeks = models.PositiveSmallIntegerField(
        default=INTAKE_WEEKS, validators=[MinValueValidator(2), MaxValueValidator(26)]
    )

    class Meta:
        constraints = (
            models.CheckConstraint(
                # A rest day in each week (AOSSM consensus: one or two).
                condition=Q(days_per_week__lte=6),
                name="minors_rest_a_day_a_week",
            ),
        )


class ConcernQuerySet(models.QuerySet["Concern"]):
    def visible_to(self, user: User) -> ConcernQuerySet:
        """Who reported it, and the camp's organisers; never whom it is about."""
        from coachhub.camps.models import Camp

        if not user.is_authenticated:
            return self.none()
        told = Q(camp__in=Camp.objects.run_by(user))
        return self.filter(Q(by_id=user.pk) | told).exclude(about_id=user.pk)


class Concern(PublicModel):
    """Something about a child that worries a guardian, until an organiser has answered it."""

    camp = models.ForeignKey("camps.Camp", on_delete=models.CASCADE, related_name="concerns")
    child = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="concerns")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+")
    about = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    words = models.TextField(max_length=4000)
    state = models.CharField(max_length=8, choices=ConcernState.choices, default=ConcernState.REPORTED)
    taken_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    taken_at = models.DateTimeField(null=True, blank=True)
    answer = models.TextField(max_length=4000, blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)

    objects = ConcernQuerySet.as_manager()

    class Meta:
        ordering = ("-created_at", "-id")
        indexes = (models.Index(fields=("camp", "state")),)
        constraints = (
            models.CheckConstraint(condition=~Q(words=""), name="a_concern_has_words"),
            models.CheckConstraint(
                condition=~Q(state=ConcernState.ANSWERED) | (~Q(answer="") & Q(answered_at__isnull=False)),
                name="an_answered_concern_has_an_answer",
            ),
        )
