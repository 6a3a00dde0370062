"""A coach drags a joint to where it is; the numbers, and the lines over the picture, follow."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import transaction

from analysis.types import JOINTS
from coachhub.accounts.models import User
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record
from coachhub.swings.domain.corrections import measured_anew, refuse_unless_measured
from coachhub.swings.domain.judgements import refuse_unless_coach
from coachhub.swings.models import JointCorrection, Readout, Swing

MOST_PLACES = 200


@transaction.atomic
def correct_joint(
    swing: Swing, joint: str, t_us: int, xy: tuple[float, float], *, by: User, now: datetime
) -> Readout:
    """Put ``joint`` at ``xy`` (shares of the picture) in the frame at ``t_us``, and measure anew at once."""
    refuse_unless_coach(swing, by)
    if joint not in JOINTS:
        raise ValueError(f"joint must be one of {JOINTS}, not {joint!r}")
    x, y = xy
    if not (0 <= x <= 1 and 0 <= y <= 1):
        raise RuleBroken("outside", "A joint must lie inside the picture.")
    swing = Swing.objects.select_for_update().get(pk=swing.pk)
    refuse_unless_measured(swing)
    if swing.joint_corrections.count() >= MOST_PLACES:
        raise RuleBroken("too_many", "This swing has very many corrected joints. Take some back first.")
    place = {"x": x, "y": y, "by": by}
    JointCorrection.objects.update_or_create(
        swing=swing, joint=joint, t_us=t_us, defaults=place, create_defaults={**place, "created_at": now}
    )
    readout = measured_anew(swing, now=now)
    record(
        "swing.joint_corrected",
        swing,
        by=by,
        now=now,
        scope=swing.clip.camp.public_id,
        joint=joint,
        t_us=t_us,
    )
    return readout


@transaction.atomic
def drop_joint_corrections(swing: Swing, joint: str, *, by: User, now: datetime) -> Readout:
    """Back to where the measuring saw ``joint``, in every frame."""
    refuse_unless_coach(swing, by)
    swing = Swing.objects.select_for_update().get(pk=swing.pk)
    readout = refuse_unless_measured(swing)
    if not swing.joint_corrections.filter(joint=joint).delete()[0]:
        return readout
    readout = measured_anew(swing, now=now)
    record(
        "swing.joint_correction_dropped", swing, by=by, now=now, scope=swing.clip.camp.public_id, joint=joint
    )
    return readout


def with_corrected_joints(tracks: dict[str, Any], rows: dict[str, list[list[Any]]]) -> dict[str, Any]:
    """The lines over the picture with the rows that a readout's corrections changed."""
    if not rows:
        return tracks
    joints = {name: list(found) for name, found in tracks["joints"].items()}
    for name, changed in rows.items():
        for row, *values in changed:
            joints[name][row] = values
    return tracks | {"joints": joints}
