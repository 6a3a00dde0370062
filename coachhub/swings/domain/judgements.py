"""What a coach says of a sign: agree, not this, can't tell. Also for a sign that was not flagged."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from coachhub.accounts.models import User
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record
from coachhub.common.rules import can
from coachhub.swings.enums import SignKey, Verdict
from coachhub.swings.models import SignJudgement, Swing


@transaction.atomic
def judge_sign(
    swing: Swing, sign: str, verdict: str, *, by: User, at_s: float | None = None, now: datetime
) -> SignJudgement:
    """The coach's latest word on this sign of this swing; ``at_s``: the frame that shows it."""
    if sign not in SignKey.values:
        raise ValueError(f"sign must be one of {SignKey.values}, not {sign!r}")
    if verdict not in Verdict.values:
        raise ValueError(f"verdict must be one of {Verdict.values}, not {verdict!r}")
    refuse_unless_coach(swing, by)
    if at_s is not None and not swing.start_s <= at_s <= swing.end_s:
        raise RuleBroken(
            "outside", f"The frame must lie within the swing, {swing.start_s:.2f} to {swing.end_s:.2f} s."
        )
    fields = {"verdict": verdict, "at_s": at_s}
    judgement, _ = SignJudgement.objects.update_or_create(
        swing=swing, sign=sign, by=by, defaults=fields, create_defaults={**fields, "created_at": now}
    )
    scope = swing.clip.camp.public_id
    record("sign.judged", swing, by=by, now=now, scope=scope, sign=sign, verdict=verdict)
    return judgement


@transaction.atomic
def drop_judgement(swing: Swing, sign: str, *, by: User, now: datetime) -> bool:
    """Take the own word back. False: there was none."""
    deleted, _ = SignJudgement.objects.filter(swing=swing, sign=sign, by=by).delete()
    if deleted:
        scope = swing.clip.camp.public_id
        record("sign.judgement_dropped", swing, by=by, now=now, scope=scope, sign=sign)
    return bool(deleted)


def refuse_unless_coach(swing: Swing, by: User) -> None:
    if not can(by, "swings.judge", swing):
        raise RuleBroken("not_a_coach", "Only a coach of this student's cohort can do this.")
