from __future__ import annotations

from django.conf import settings
from django.db import models

from coachhub.common.models import PublicModel


class ApiTokenQuerySet(models.QuerySet["ApiToken"]):
    def visible_to(self, user: models.Model) -> ApiTokenQuerySet:
        """One's own alone: nobody else has business with them."""
        return self.filter(person_id=user.pk) if user.pk is not None else self.none()


class ApiToken(PublicModel):
    """A key with which a person's own program reads and writes in that person's name. Only its digest is kept."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="api_tokens")
    name = models.CharField(max_length=60)
    digest = models.CharField(max_length=64, unique=True)
    # The last four characters, so that its owner can tell two apart.
    ending = models.CharField(max_length=4)
    may_write = models.BooleanField(default=False)
    expires_at = models.DateTimeField()
    last_used_at = models.DateTimeField(null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)

    objects = ApiTokenQuerySet.as_manager()

    class Meta:
        ordering = ("-created_at", "-id")
        constraints = (models.CheckConstraint(condition=~models.Q(name=""), name="tokens_have_a_name"),)
