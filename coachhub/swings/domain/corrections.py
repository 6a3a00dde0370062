"""A coach puts an event of a swing where it belongs; the numbers follow."""

from __future__ import annotations

from datetime import datetime
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
    readout = _measured_anew(swing, now=now)
    record("swing.corrected", swing, by=by, now=now, scope=_scope(swing), event=event, t_s=t_s)
    return readout


@transaction.atomic
def drop_correction(swing: Swing, event: str, *, by: User, now: datetime) -> Readout:
    """Back to the measured time of ``event``."""
    refuse_unless_coach(swing, by)
    _label(event)
    swing = Swing.objects.select_for_update().get(pk=swing.pk)
    if not EventCorrection.objects.filter(swing=swing, event=event).delete()[0]:
        return _current(swing)
    readout = _measured_anew(swing, now=now)
    record("swing.correction_dropped", swing, by=by, now=now, scope=_scope(swing), event=event)
    return readout


def _measured_anew(swing: Swing, *, now: datetime) -> Readout:
    readout = _current(swing)
    try:
        with result_folder(readout.run) as folder:
            data = remeasured(folder, readout.data, corrections_of(swing))
    except ValueError as error:
        raise RuleBroken("event", f"The events would not make one swing any more: {error}.") from error
    except FileNotFoundError as error:
        raise RuleBroken("no_tracks", "The tracks of this swing are gone; have it measured again.") from error
    return save_readout(swing, readout.run, data, now=now)


def _current(swing: Swing) -> Readout:
    readout = swing.readouts.filter(is_current=True).select_related("run").first()
    if readout is None:
        raise RuleBroken("not_measured", "This swing was not measured, so there is no event to correct.")
    return readout


def _label(event: str) -> str:
    if event not in SwingEvent.values:
        raise ValueError(f"event must be one of {SwingEvent.values}, not {event!r}")
    return str(SwingEvent(event).label)


def _scope(swing: Swing) -> UUID:
    return swing.clip.camp.public_id
