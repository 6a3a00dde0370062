from __future__ import annotations

from django.conf import settings
from django.core.validators import MaxValueValidator
from django.db import models

from coachhub.accounts.enums import MailState, NoticeKind, Rhythm
from coachhub.common.models import PublicModel


class NoticeQuerySet(models.QuerySet["Notice"]):
    def visible_to(self, user: models.Model) -> NoticeQuerySet:
        """One's own alone."""
        return self.filter(person_id=user.pk) if user.pk is not None else self.none()


class Notice(PublicModel):
    """Something a person should know: on the site at once, by mail as often as the person wants."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="notices")
    kind = models.CharField(max_length=10, choices=NoticeKind.choices)
    # The camp it belongs to, by its public id.
    scope_id = models.UUIDField(null=True, blank=True)
    # What it is about, so that the same thing is told once.
    about = models.CharField(max_length=80)
    path = models.CharField(max_length=200)
    # For the sentence on the site: names of things, never in a letter's subject.
    words = models.JSONField(default=dict, blank=True)
    read_at = models.DateTimeField(null=True, blank=True)
    mail_state = models.CharField(max_length=7, choices=MailState.choices, default=MailState.WAITING)
    mailed_at = models.DateTimeField(null=True, blank=True)

    objects = NoticeQuerySet.as_manager()

    class Meta:
        ordering = ("-created_at", "-id")
        constraints = (
            models.UniqueConstraint(fields=("person", "kind", "about"), name="told_once"),
            models.CheckConstraint(
                condition=models.Q(path__startswith="/"), name="notices_lead_into_the_site"
            ),
        )
        indexes = (models.Index(fields=("mail_state", "created_at")),)


class MailChoice(models.Model):
    """How often a person wants letters, and in which hours none; without a row the usual holds."""

    person = models.OneToOneField(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="mail_choice"
    )
    rhythm = models.CharField(max_length=7, choices=Rhythm.choices, default=Rhythm.AT_ONCE)
    # Whole hours of the person's own zone; equal: no quiet hours.
    quiet_from = models.PositiveSmallIntegerField(default=21, validators=[MaxValueValidator(23)])
    quiet_to = models.PositiveSmallIntegerField(default=7, validators=[MaxValueValidator(23)])
    digest_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=models.Q(quiet_from__lte=23, quiet_to__lte=23), name="quiet_hours_are_of_a_day"
            ),
        )
