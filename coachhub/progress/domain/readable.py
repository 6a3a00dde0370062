"""What of a swing's measuring a person may read: staff all of it, a student what a coach confirmed and sent."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from analysis.signs.rules import RULES
from coachhub.accounts.models import User
from coachhub.camps.models import Cohort
from coachhub.feedback.enums import ReviewState
from coachhub.feedback.models import Review
from coachhub.progress.domain.judged import Status, judged_submissions
from coachhub.swings.models import Readout, SignJudgement, Swing
from coachhub.videos.models import Submission


@dataclass(frozen=True)
class Readable:
    readout: Readout
    metrics: dict[str, dict[str, Any]]
    signs: dict[str, dict[str, Any]]
    # By sign: what each coach said of it on this swing.
    verdicts: dict[str, list[str]]
    # Whether a coach's answer to it is out; unreviewed signs are the machine's word alone.
    reviewed: bool


def numbers_behind(confirmed: Iterable[str]) -> set[str]:
    """What the machine flagged and no coach confirmed is not a student's to read from a number either."""
    found = set(confirmed)
    return {term.metric for rule in RULES if rule.key in found for term in rule.terms}


def confirmed_signs(submission: Submission) -> set[str]:
    """Signs that a coach agreed to on a swing of this submission, once its answer is out."""
    out = Submission.objects.filter(pk=submission.pk, review__state=ReviewState.PUBLISHED)
    judged = judged_submissions(submission.camp, out)
    return {sign for one in judged for sign, status in one.signs.items() if status == Status.CONFIRMED}


def is_staff_of(user: User, swing: Swing) -> bool:
    """A reference of a coach's library has no student to protect: who sees it reads it whole."""
    submission = swing.clip.submission
    return submission is None or Cohort.objects.staffed_by(user).filter(pk=submission.cohort_id).exists()


def readable(swing: Swing, user: User) -> Readable | None:
    """None while there is nothing this person may read. The caller has found the swing through ``visible_to``."""
    submission = swing.clip.submission
    review = Review.objects.filter(submission=submission).first() if submission is not None else None
    is_out = review is not None and review.state == ReviewState.PUBLISHED
    if is_staff_of(user, swing):
        current = Readout.objects.filter(swing=swing).shown().first()
        return None if current is None else _whole(current, is_out)
    if submission is None or review is None or not is_out:
        return None
    shown = Readout.objects.filter(swing=swing).shown(review.published_at).first()
    return None if shown is None else _confirmed(shown, submission)


def _whole(readout: Readout, is_out: bool) -> Readable:
    data = readout.data
    return Readable(
        readout, data.get("metrics") or {}, data.get("signs") or {}, _verdicts(readout.swing_id), is_out
    )


def _confirmed(readout: Readout, submission: Submission) -> Readable:
    confirmed = confirmed_signs(submission)
    numbers = numbers_behind(confirmed) if submission.camp.students_see_trends else set()
    metrics = {k: v for k, v in (readout.data.get("metrics") or {}).items() if k in numbers}
    signs = {k: v for k, v in (readout.data.get("signs") or {}).items() if k in confirmed}
    verdicts = {k: v for k, v in _verdicts(readout.swing_id).items() if k in confirmed}
    return Readable(readout, metrics, signs, verdicts, True)


def _verdicts(swing_id: int) -> dict[str, list[str]]:
    said: dict[str, list[str]] = {}
    rows = SignJudgement.objects.filter(swing_id=swing_id).order_by("created_at", "pk")
    for sign, verdict in rows.values_list("sign", "verdict"):
        said.setdefault(sign, []).append(verdict)
    return said
