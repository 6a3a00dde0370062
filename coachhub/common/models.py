from __future__ import annotations

import uuid

from django.conf import settings
from django.db import models

from coachhub.common.enums import JobState


class PublicModel(models.Model):
    """A row that people meet: integers stay inside, addresses carry the UUID."""

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    created_at = models.DateTimeField()

    class Meta:
        abstract = True


class JobRow(models.Model):
    """Work for a worker. This row is the truth; a message in the queue only says "look at it"."""

    job_state = models.CharField(max_length=8, choices=JobState.choices, default=JobState.WAITING)
    attempts = models.PositiveSmallIntegerField(default=0)
    lease_token = models.UUIDField(null=True, blank=True)
    lease_until = models.DateTimeField(null=True, blank=True)
    stage = models.CharField(max_length=60, blank=True)
    percent = models.PositiveSmallIntegerField(default=0)
    error_code = models.CharField(max_length=60, blank=True)
    error_text = models.TextField(blank=True)
    queued_at = models.DateTimeField()
    started_at = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        abstract = True


class Event(models.Model):
    """What happened, append only: who did what to which thing, within which camp."""

    at = models.DateTimeField(db_index=True)
    actor = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    verb = models.CharField(max_length=60)
    thing = models.CharField(max_length=60)
    thing_id = models.UUIDField(db_index=True)
    scope_id = models.UUIDField(null=True, blank=True, db_index=True)
    detail = models.JSONField(default=dict, blank=True)

    class Meta:
        ordering = ("at", "id")


class Sight(models.Model):
    """Somebody looked at something private, append only; once for each hour in which they did."""

    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    thing = models.CharField(max_length=60)
    thing_id = models.UUIDField()
    scope_id = models.UUIDField(null=True, blank=True, db_index=True)
    at = models.DateTimeField(db_index=True)
    hour = models.DateTimeField()

    class Meta:
        ordering = ("at", "id")
        constraints = (
            models.UniqueConstraint(
                fields=("person", "thing", "thing_id", "hour"), name="a_sight_is_noted_once_an_hour"
            ),
        )
        indexes = (models.Index(fields=("thing", "thing_id", "at")),)
