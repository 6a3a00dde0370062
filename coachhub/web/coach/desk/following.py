"""The coach's next piece of work: which it is, what was answered before, and what of it can be fetched ahead."""

from __future__ import annotations

from datetime import datetime

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from coachhub.accounts.models import User
from coachhub.feedback.domain.queue import Wanted, queue_of
from coachhub.feedback.enums import ReviewState
from coachhub.feedback.models import Review
from coachhub.web.coach.desk.lookup import desk_view, me
from coachhub.web.player import clips_to_show, hand_of, player_of

MOST_CLIPS_AHEAD = 3
MOST_BEFORE = 12


def next_review(user: User, now: datetime, *, besides: Review | None = None) -> Review | None:
    """The first of the coach's queue that wants an answer; replies are read in their thread."""
    unanswered = (ReviewState.WAITING, ReviewState.CLAIMED)
    waiting = queue_of(user, Wanted(), now=now).filter(state__in=unanswered, due_at__isnull=False)
    return (waiting.exclude(pk=besides.pk) if besides else waiting).first()


@require_safe
@desk_view
def ahead(request: HttpRequest, review: Review) -> HttpResponse:
    """Addresses of what the next desk will show first, for the browser to have at hand; nothing is claimed."""
    following = next_review(me(request), timezone.now(), besides=review)
    return JsonResponse({"media": _media_of(following, me(request)) if following else []})


def _media_of(review: Review, user: User) -> list[str]:
    clips = clips_to_show(review.submission, user)[:MOST_CLIPS_AHEAD]
    swings = player_of(clips, user, hand=hand_of(review.submission.student_id))["swings"]
    parts = [[swing["index"], swing["tracks"], swing["poster"], swing["src"]] for swing in swings]
    return list(dict.fromkeys(address for part in parts for address in part if address))


def answers_before(review: Review) -> list[Review]:
    """What this student was told in this camp, the latest first."""
    submission = review.submission
    published = Review.objects.filter(
        submission__student=submission.student_id,
        submission__camp=submission.camp_id,
        state=ReviewState.PUBLISHED,
    ).exclude(pk=review.pk)
    related = ("submission", "drill", "published_by")
    return list(published.select_related(*related).order_by("-published_at")[:MOST_BEFORE])
