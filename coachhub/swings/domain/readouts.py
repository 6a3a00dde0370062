"""Swings of a clip and the numbers that hold for each."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

from django.db import transaction
from django.db.models import Max

from coachhub.swings.domain.banding import judged_for, write_flags
from coachhub.swings.domain.remeasuring import Corrections, remeasured
from coachhub.swings.models import AnalysisRun, Readout, Swing
from coachhub.videos.models import Clip

# Two versions mean the same swing if they agree on this share of the shorter span.
SAME_SWING_SHARE = 0.5


def is_measured_by(clip: Clip, run: AnalysisRun) -> bool:
    return Readout.objects.filter(swing__clip=clip, run=run).exists()


def place_swings(
    clip: Clip, found: list[dict[str, Any]], *, now: datetime
) -> list[tuple[Swing, dict[str, Any]]]:
    """Each found swing with its row. A swing that an earlier version found stays the same row, with all on it."""
    known = list(clip.swings.all())
    placed = []
    for data in found:
        span = float(data["start_s"]), float(data["end_s"])
        swing = _same_swing(known, span)
        if swing is None:
            swing = Swing(clip=clip, number=_next_number(clip), created_at=now)
        else:
            known.remove(swing)
        swing.start_s, swing.end_s = span
        swing.save()
        placed.append((swing, data))
    return placed


def _same_swing(known: list[Swing], span: tuple[float, float]) -> Swing | None:
    def share(swing: Swing) -> float:
        common = min(swing.end_s, span[1]) - max(swing.start_s, span[0])
        return common / min(swing.end_s - swing.start_s, span[1] - span[0])

    best = max(known, key=share, default=None)
    return best if best is not None and share(best) >= SAME_SWING_SHARE else None


def _next_number(clip: Clip) -> int:
    highest: int | None = clip.swings.aggregate(highest=Max("number"))["highest"]
    return (highest or 0) + 1


def add_readout(
    swing: Swing, run: AnalysisRun, data: dict[str, Any], folder: Path, *, now: datetime
) -> Readout:
    """The machine's numbers as revision 0 and, where a coach corrected something before, theirs on top."""
    readout = save_readout(swing, run, data, now=now)
    corrected = corrections_of(swing)
    if corrected:
        try:
            data = remeasured(folder, data, corrected)
        except ValueError:
            # The new version sees the swing so differently that the old times don't fit: its own numbers stand.
            return readout
        readout = save_readout(swing, run, data, now=now)
    return readout


def corrections_of(swing: Swing) -> Corrections:
    places = swing.joint_corrections.values_list("joint", "t_us", "x", "y")
    return Corrections(dict(swing.corrections.values_list("event", "t_s")), tuple(places))


@transaction.atomic
def save_readout(swing: Swing, run: AnalysisRun, data: dict[str, Any], *, now: datetime) -> Readout:
    """The next revision, with its signs; from now on it is the current one."""
    swing = Swing.objects.select_for_update().get(pk=swing.pk)
    last: int | None = swing.readouts.filter(run=run).aggregate(last=Max("revision"))["last"]
    swing.readouts.filter(is_current=True).update(is_current=False)
    data, bands_number = judged_for(swing.clip.camp, data)
    readout = Readout.objects.create(
        swing=swing,
        run=run,
        revision=0 if last is None else last + 1,
        data=data,
        bands_number=bands_number,
        created_at=now,
    )
    write_flags(readout)
    return readout
