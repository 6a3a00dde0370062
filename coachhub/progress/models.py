from __future__ import annotations

from django.conf import settings
from django.db import models

from coachhub.accounts.models import User
from coachhub.common.models import JobRow, PublicModel


class TakeawayQuerySet(models.QuerySet["Takeaway"]):
    def visible_to(self, user: User) -> TakeawayQuerySet:
        """Whoever ordered it; it may be the data of a child that they answer for."""
        return self.filter(ordered_by_id=user.pk) if user.is_authenticated else self.none()


class Takeaway(PublicModel, JobRow):
    """All data of one person as one file, made by a worker and deleted after some days."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="takeaways")
    ordered_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    file_key = models.CharField(max_length=200, blank=True)
    size = models.PositiveBigIntegerField(default=0)
    # When the file goes.
    expires_at = models.DateTimeField(null=True, blank=True)

    objects = TakeawayQuerySet.as_manager()

    class Meta:
        ordering = ("-created_at", "-id")
        constraints = (
            models.UniqueConstraint(
                fields=("person", "ordered_by"),
                condition=models.Q(job_state__in=("waiting", "running")),
                name="one_takeaway_under_way",
            ),
        )
