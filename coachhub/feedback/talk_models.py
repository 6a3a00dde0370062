"""Talk-throughs: takes of sound, the time line beside them, and the film that can be made of both."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from coachhub.accounts.models import User
from coachhub.common.models import JobRow, PublicModel


class TalkTake(models.Model):
    """One recording of a talk as the browser sent it; there may be takes before there is a talk."""

    review = models.ForeignKey("feedback.Review", on_delete=models.CASCADE, related_name="takes")
    talk_id = models.UUIDField()
    number = models.PositiveSmallIntegerField()
    source_key = models.CharField(max_length=200)
    size = models.PositiveIntegerField()
    created_at = models.DateTimeField()

    class Meta:
        ordering = ("talk_id", "number")
        constraints = (models.UniqueConstraint(fields=("talk_id", "number"), name="takes_are_numbered"),)


class TalkThroughQuerySet(models.QuerySet["TalkThrough"]):
    def visible_to(self, user: User) -> TalkThroughQuerySet:
        from coachhub.feedback.models import Review

        return self.filter(review__in=Review.objects.visible_to(user))


class TalkThrough(PublicModel, JobRow):
    """The coach's voice together with what the coach did on screen; a worker joins the takes."""

    review = models.ForeignKey("feedback.Review", on_delete=models.CASCADE, related_name="talks")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    # As recorded: which parts of which takes, and what happened in each take.
    script = models.JSONField()
    # Joined: {"duration_ms", "events"}; what a replay reads.
    timeline = models.JSONField(default=dict, blank=True)
    # What was on screen when it was recorded: readout, events and comparison of each swing. A later measuring or
    # correction changes nothing of an old talk.
    pins = models.JSONField(default=dict, blank=True)
    audio_key = models.CharField(max_length=200, blank=True)
    duration_ms = models.PositiveIntegerField(default=0)
    caption = models.TextField(max_length=8000, blank=True)

    objects = TalkThroughQuerySet.as_manager()

    class Meta:
        ordering = ("id",)


class TalkFilmQuerySet(models.QuerySet["TalkFilm"]):
    def visible_to(self, user: User) -> TalkFilmQuerySet:
        return self.filter(talk__in=TalkThrough.objects.visible_to(user))


class TalkFilm(PublicModel, JobRow):
    """A talk as one video file to take away."""

    talk = models.OneToOneField(TalkThrough, on_delete=models.CASCADE, related_name="film")
    film_key = models.CharField(max_length=200, blank=True)
    size = models.PositiveBigIntegerField(default=0)

    objects = TalkFilmQuerySet.as_manager()
