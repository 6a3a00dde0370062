"""All events of one swing."""

from __future__ import annotations

from dataclasses import replace

from analysis.events.impact import impact_event
from analysis.events.level import SEEN_LATE_BACK_S, arm_level, shaft_level
from analysis.events.rest import address_event, finish_event, takeaway_event
from analysis.events.top import top_event
from analysis.tracks import SwingTracks
from analysis.types import EVENTS, EventTime

# Down-the-line the shaft comes out from behind the body there, short: seldom seen and often a frame off.
THROUGH_DTL_WIDER = 2.2


def detect_events(swing: SwingTracks) -> dict[str, EventTime]:
    """Every event that can be placed, in order of time; the others are left out.

    Parameters
    ----------
    swing : SwingTracks
        One swing.

    Returns
    -------
    dict
        Keys from ``types.EVENTS``; times in seconds of the clip with standard errors.
    """
    found: dict[str, EventTime | None] = {}
    impact = impact_event(swing)
    if impact is None:
        return {}
    found["impact"] = impact
    top = top_event(swing, impact.t_s)
    if top is not None:
        found["top"] = top
        takeaway = takeaway_event(swing, top.t_s)
        found["takeaway"] = takeaway
        if takeaway is not None:
            found["address"] = address_event(takeaway, swing)
        found |= _between(swing, takeaway.t_s if takeaway else swing.guess["takeaway"], top.t_s, impact.t_s)
    found["shaft_parallel_through"] = _through(swing, impact.t_s)
    found["finish"] = finish_event(swing, impact.t_s)
    return {name: event for name in EVENTS if (event := found.get(name)) is not None}


def _through(swing: SwingTracks, impact: float) -> EventTime | None:
    found = shaft_level(
        swing, impact, impact + 0.02 * swing.stretch, impact + 0.25 * swing.stretch, sinking=False
    )
    if found is None or swing.face_on:
        return found
    return replace(found, se_s=THROUGH_DTL_WIDER * found.se_s)


def _between(swing: SwingTracks, start: float, top: float, impact: float) -> dict[str, EventTime | None]:
    arm_back = arm_level(swing, start + 0.25 * (top - start), top, back=True)
    arm_down = arm_level(swing, top, impact - 0.02 * swing.stretch, back=False)
    shaft_back_end = arm_back.t_s if arm_back else top
    shaft_back = shaft_level(swing, start, start + 0.1 * (top - start), shaft_back_end, sinking=False)
    if shaft_back is not None and not swing.face_on:
        shaft_back = replace(shaft_back, t_s=shaft_back.t_s - SEEN_LATE_BACK_S * swing.stretch)
    delivery = shaft_level(swing, impact, top + 0.25 * (impact - top), impact, sinking=True)
    return {
        "shaft_parallel_back": shaft_back,
        "lead_arm_parallel_back": arm_back,
        "lead_arm_parallel_down": arm_down,
        "delivery_shaft_parallel": delivery,
    }
