"""A coach puts an event of a swing where it belongs; the numbers follow."""

from __future__ import annotations

import logging
from datetime import datetime
from itertools import pairwise
from typing import Any
from uuid import UUID

from django.db import transaction

from coachhub.accounts.models import User
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record
from coachhub.swings.domain.files import result_folder
from coachhub.swings.domain.judgements import refuse_unless_coach
from coachhub.swings.domain.readouts import corrections_of, save_readout
from coachhub.swings.domain.remeasuring import remeasured
from coachhub.swings.enums import SwingEvent
from coachhub.swings.models import EventCorrection, Readout, Swing

log = logging.getLogger(__name__)

NO_SWING_ANY_MORE = "Set like this, the events would not make one swing any more. Choose another frame."


@transaction.atomic
def correct_event(swing: Swing, event: str, t_s: float, *, by: User, now: datetime) -> Readout:
    """Set ``event`` to ``t_s`` seconds from the clip's start and measure anew from the stored tracks."""
    refuse_unless_coach(swing, by)
    label = _label(event)
    if not swing.start_s <= t_s <= swing.end_s:
        raise RuleBroken(
            "outside",
            f"“{label}” must lie within the swing, {swing.start_s:.2f} to {swing.end_s:.2f} s, not {t_s:.2f} s.",
        )
    swing = Swing.objects.select_for_update().get(pk=swing.pk)
    EventCorrection.objects.update_or_create(
        swing=swing,
        event=event,
        defaults={"t_s": t_s, "by": by},
        create_defaults={"t_s": t_s, "by": by, "created_at": now},
    )
    readout = measured_anew(swing, now=now)
    record("swing.corrected", swing, by=by, now=now, scope=_scope(swing), event=event, t_s=t_s)
    return readout


@transaction.atomic
def drop_correction(swing: Swing, event: str, *, by: User, now: datetime) -> Readout:
    """Back to the measured time of ``event``."""
    refuse_unless_coach(swing, by)
    _label(event)
    swing = Swing.objects.select_for_update().get(pk=swing.pk)
    if not EventCorrection.objects.filter(swing=swing, event=event).delete()[0]:
        return refuse_unless_measured(swing)
    readout = measured_anew(swing, now=now)
    record("swing.correction_dropped", swing, by=by, now=now, scope=_scope(swing), event=event)
    return readout


def measured_anew(swing: Swing, *, now: datetime) -> Readout:
    """The next readout, from the stored tracks and all that coaches corrected."""
    readout = refuse_unless_measured(swing)
    corrections = corrections_of(swing)
    _refuse_disorder(readout.data, corrections.events)
    try:
        with result_folder(readout.run) as folder:
            data = remeasured(folder, readout.data, corrections)
    except ValueError as error:
        log.info("swing %s can't be measured as corrected: %s", swing.pk, error)
        raise RuleBroken("event", NO_SWING_ANY_MORE) from error
    except FileNotFoundError as error:
        raise RuleBroken("no_tracks", "The tracks of this swing are gone; have it measured again.") from error
    return save_readout(swing, readout.run, data, now=now)


def _refuse_disorder(data: dict[str, Any], corrected: dict[str, float]) -> None:
    """Say in plain words which two events would change places."""
    found = {name: event["t"] for name, event in data.get("events", {}).items() if event.get("t") is not None}
    times = found | corrected
    names = [name for name in SwingEvent.values if name in times]
    for before, after in pairwise(names):
        if times[before] > times[after] and (before in corrected or after in corrected):
            raise RuleBroken(
                "event",
                f"“{_label(before)}” ({times[before]:.2f} s) can't come after “{_label(after)}” "
                f"({times[after]:.2f} s). Choose another frame, or set the other one first.",
            )


def refuse_unless_measured(swing: Swing) -> Readout:
    readout = swing.readouts.filter(is_current=True).select_related("run").first()
    if readout is None:
        raise RuleBroken("not_measured", "This swing was not measured, so there is nothing to correct.")
    return readout


def _label(event: str) -> str:
    if event not in SwingEvent.values:
        raise ValueError(f"event must be one of {SwingEvent.values}, not {event!r}")
    return str(SwingEvent(event).label)


def _scope(swing: Swing) -> UUID:
    return swing.clip.camp.public_id
