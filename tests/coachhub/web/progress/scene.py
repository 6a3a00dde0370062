"""A cohort with answered range days: what the pages of progress are tried on."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from coachhub.accounts.models import User
from coachhub.camps.models import Cohort
from coachhub.feedback.models import FindingVersion, Review
from coachhub.swings.models import SignJudgement
from tests import factories
from tests.factories import NOW

FIRST = date(2026, 6, 2)
# Numbers behind "sway" and "early release", and one behind neither.
SWAY, RELEASE = "pelvis_shift_top", "arm_shaft_lead_arm_parallel_down"


def range_day(
    student: User,
    cohort: Cohort,
    coach: User,
    number: int,
    metrics: dict[str, list[float]],
    *,
    signs: dict[str, str] | None = None,
    confirms: tuple[str, ...] = (),
    is_out: bool = True,
    **answer: Any,
) -> Review:
    """Three swings, or as many as there are values, with their numbers; the coach's answer a day later."""
    day = FIRST + timedelta(days=6 * number)
    at = NOW + timedelta(days=6 * number - 7)
    usable_at = at - timedelta(hours=20)
    sent = factories.make_submission(student, cohort, range_day=day, sent_at=usable_at, settled_at=usable_at)
    clip = factories.make_clip(sent)
    for values in zip(*metrics.values(), strict=True):
        measured = {
            name: {"value": value, "se": 0.5, "unit": "deg"}
            for name, value in zip(metrics, values, strict=True)
        }
        data = factories.readout_data(signs or {}) | {"metrics": measured}
        swing = factories.make_swing(clip, signs=signs, data=data)
        for sign in confirms:
            SignJudgement.objects.create(swing=swing, sign=sign, verdict="agree", by=coach, created_at=NOW)
    out = {"state": "published", "published_at": at, "published_by": coach} if is_out else {}
    return factories.make_review(sent, **out | answer)


def found(review: Review, coach: User, mechanism: str = "ds_early_release") -> FindingVersion:
    return FindingVersion.objects.create(
        review=review, number=1, by=coach, mechanism_node=mechanism, created_at=review.published_at or NOW
    )
