"""That an answer is there: a notice for the student and whoever reads along, and their letters."""

from __future__ import annotations

from datetime import datetime, timedelta

from coachhub.feedback.domain.telling import tell_answer
from coachhub.feedback.enums import ReviewState
from coachhub.feedback.models import Review

# After this the answer is no news any more.
WORTH_TELLING = timedelta(days=3)
LATE = timedelta(minutes=2)


def tell_of_answer(review_id: int, *, now: datetime) -> bool:
    """Once. False: it was told before, or there is nothing to tell. Letters that get lost are sent by the sweep."""
    untold_one = Review.objects.filter(pk=review_id, state=ReviewState.PUBLISHED, mailed_at=None)
    if not untold_one.update(mailed_at=now):
        return False
    tell_answer(
        Review.objects.select_related("submission__student", "submission__camp").get(pk=review_id), now=now
    )
    return True


def untold(now: datetime) -> list[int]:
    """Answers of which nobody was told: a worker died in between."""
    published = Review.objects.filter(
        state=ReviewState.PUBLISHED,
        mailed_at=None,
        published_at__gt=now - WORTH_TELLING,
        published_at__lt=now - LATE,
    )
    return list(published.values_list("pk", flat=True)[:200])
