from __future__ import annotations

from django.conf import settings
from django.db import models

from coachhub.common.models import PublicModel


class DoorQuerySet(models.QuerySet["Door"]):
    def visible_to(self, user: models.Model) -> DoorQuerySet:
        """One's own alone."""
        return self.filter(person_id=user.pk) if user.pk is not None else self.none()


class Door(PublicModel):
    """A browser in which a person is signed in. No address is kept, only what kind of browser it says it is."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="doors")
    session_key = models.CharField(max_length=40, unique=True)
    browser = models.CharField(max_length=80)
    seen_at = models.DateTimeField()

    objects = DoorQuerySet.as_manager()

    class Meta:
        ordering = ("-seen_at", "-id")
