"""What a camp asks of its students and when, and the key to a person's calendar."""

from __future__ import annotations

import uuid
from typing import TYPE_CHECKING

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from coachhub.common.models import PublicModel

if TYPE_CHECKING:
    from coachhub.accounts.models import User

MOST_SWINGS = 12


class CampTaskQuerySet(models.QuerySet["CampTask"]):
    def visible_to(self, user: User) -> CampTaskQuerySet:
        """Everybody in the camp, and who reads along with a child in it."""
        from coachhub.accounts.models import Guardianship
        from coachhub.camps.models import Camp, Membership

        if not user.is_authenticated:
            return self.none()
        children = Membership.objects.filter(user_id__in=Guardianship.objects.read_along(user))
        return self.filter(
            Q(camp__in=Camp.objects.visible_to(user)) | Q(camp_id__in=children.values("camp_id"))
        )

    def standing(self) -> CampTaskQuerySet:
        return self.filter(retired_at=None)


class CampTask(PublicModel):
    """Swings to film in some days of the camp's zone. What is retired stays for the record and asks nothing."""

    camp = models.ForeignKey("camps.Camp", on_delete=models.CASCADE, related_name="tasks")
    words = models.CharField(max_length=120)
    note = models.CharField(max_length=400, blank=True)
    opens_on = models.DateField()
    # The whole day counts, in the camp's zone.
    due_on = models.DateField()
    # Empty: any club.
    club_class = models.CharField(max_length=7, blank=True)
    # Values of `videos.View`, which stands to the right of this app.
    views = models.JSONField(default=list)
    swings = models.PositiveSmallIntegerField(
        default=3, validators=[MinValueValidator(1), MaxValueValidator(MOST_SWINGS)]
    )
    is_baseline = models.BooleanField(default=False)
    retired_at = models.DateTimeField(null=True, blank=True)

    objects = CampTaskQuerySet.as_manager()

    class Meta:
        ordering = ("due_on", "opens_on", "id")
        indexes = (models.Index(fields=("camp", "due_on")),)
        constraints = (
            models.CheckConstraint(condition=Q(due_on__gte=F("opens_on")), name="a_task_opens_before_due"),
            models.CheckConstraint(condition=~Q(words=""), name="a_task_has_words"),
            models.CheckConstraint(
                condition=Q(swings__gte=1, swings__lte=MOST_SWINGS), name="a_task_wants_some_swings"
            ),
            models.UniqueConstraint(
                fields=("camp",),
                condition=Q(is_baseline=True, retired_at=None),
                name="one_baseline_per_camp",
            ),
        )


class CalendarKey(models.Model):
    """The nonce inside a person's calendar address: a new one ends the old address, no row ends all."""

    person = models.OneToOneField(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="calendar_key"
    )
    nonce = models.UUIDField(default=uuid.uuid4)
    made_at = models.DateTimeField()
