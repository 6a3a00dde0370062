"""What the queue page says of each review, from a fixed number of queries for the whole page."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Count

from coachhub.accounts.models import User
from coachhub.feedback.domain.finding import miss_sentence
from coachhub.feedback.domain.queue import Reason, reasons_of
from coachhub.feedback.enums import ReviewState
from coachhub.feedback.models import Review
from coachhub.swings.enums import SignKey, SignLevel
from coachhub.swings.models import SignFlag
from coachhub.videos.enums import ClipState, View
from coachhub.videos.models import Clip, Submission
from coachhub.web.coach.words import promise_words, since_words

TONES = {Reason.RED_FLAG: "bad", Reason.OVERDUE: "bad", Reason.PAIN: "warn", Reason.REPLY: "good"}


@dataclass(frozen=True)
class Row:
    review: Review
    # Whether this row begins another student's work.
    heads_group: bool
    reasons: list[tuple[str, str]]
    time: str
    filmed: str
    miss: str
    likely: list[str]
    mine: bool
    held_by: User | None
    is_answered: bool
    has_draft: bool


def rows_of(reviews: list[Review], user: User, now: datetime) -> list[Row]:
    submissions = [review.submission_id for review in reviews]
    clips, signs = _clips_of(submissions), _likely_signs(submissions)
    rows: list[Row] = []
    before: int | None = None
    for review in reviews:
        student = review.submission.student_id
        rows.append(
            _row(
                review, clips[review.submission_id], signs[review.submission_id], user, now, student != before
            )
        )
        before = student
    return rows


def _row(
    review: Review, clips: list[Clip], signs: list[str], user: User, now: datetime, heads_group: bool
) -> Row:
    claimed = review.state == ReviewState.CLAIMED
    mine = claimed and review.claimed_by_id == user.pk
    return Row(
        review=review,
        heads_group=heads_group,
        reasons=[(str(reason.label), TONES.get(reason, "")) for reason in reasons_of(review, now)],
        time=_time(review, now),
        filmed=filmed_words(review.submission, clips),
        miss=miss_sentence(review.submission),
        likely=signs,
        mine=mine,
        held_by=review.claimed_by if claimed and not mine else None,
        is_answered=review.state == ReviewState.PUBLISHED,
        has_draft=review.revision > 0 and review.state != ReviewState.PUBLISHED,
    )


def _time(review: Review, now: datetime) -> str:
    if review.state == ReviewState.PUBLISHED and review.reply_waiting_since:
        return since_words(review.reply_waiting_since, now)
    return promise_words(review.due_at, now)


def filmed_words(submission: Submission, clips: Iterable[Clip]) -> str:
    """ "iron, face-on and down-the-line, 3 swings"."""
    clips = list(clips)
    views = list(dict.fromkeys(str(View(clip.view).label) for clip in clips))
    swings = sum(getattr(clip, "swing_count", 0) for clip in clips)
    counted = f"{swings} swing{'' if swings == 1 else 's'}" if swings else ""
    return ", ".join(filter(None, (submission.get_club_class_display(), " and ".join(views), counted)))


def _clips_of(submissions: list[int]) -> dict[int, list[Clip]]:
    found: dict[int, list[Clip]] = defaultdict(list)
    usable = Clip.objects.filter(submission__in=submissions).exclude(state=ClipState.REFUSED)
    for clip in usable.annotate(swing_count=Count("swings")).order_by("submission_id", "number"):
        assert clip.submission_id is not None
        found[clip.submission_id].append(clip)
    return found


def _likely_signs(submissions: list[int]) -> dict[int, list[str]]:
    found: dict[int, list[str]] = defaultdict(list)
    flags = SignFlag.objects.filter(
        readout__is_current=True, readout__swing__clip__submission__in=submissions, level=SignLevel.LIKELY
    )
    pairs = flags.values_list("readout__swing__clip__submission_id", "sign").distinct()
    labels = dict(SignKey.choices)
    for submission_id, sign in sorted(pairs):
        found[submission_id].append(str(labels.get(sign, sign)))
    return found
