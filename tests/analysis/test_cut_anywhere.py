"""A swing cut at every place: what the clip doesn't hold is missing, never made up, and the rest stays right.

Tracks come from the truth files and are cut as a phone does that is started too late or stopped too early.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.events import detect_events
from analysis.gate import seen_events
from analysis.scout import SwingWindow, find_swings
from analysis.tracks import SwingTracks
from analysis.types import EventTime, PoseTrack
from tests.analysis.conftest import TRUTH_NAMES, truth_tracks

STEP_S = 0.06
# The coarse pass sees twelve frames a second.
COARSE = 5
COARSE_S = COARSE / 60
names = pytest.mark.parametrize("name", TRUTH_NAMES)


def part(pose: PoseTrack, start_s: float, end_s: float) -> PoseTrack:
    keep = (pose.t_s >= start_s) & (pose.t_s <= end_s)
    return replace(pose, t_s=pose.t_s[keep], xy=pose.xy[keep], confidence=pose.confidence[keep])


def coarse(pose: PoseTrack) -> PoseTrack:
    keep = slice(None, None, COARSE)
    return replace(pose, t_s=pose.t_s[keep], xy=pose.xy[keep], confidence=pose.confidence[keep])


def tracks_within(swing: SwingTracks, window: SwingWindow, start_s: float, end_s: float) -> SwingTracks:
    """The swing as the close pass would see it: no frame outside, the ball's leaving only where it is in the clip."""
    club = swing.club
    keep = (club.t_s >= start_s) & (club.t_s <= end_s)
    return replace(
        swing,
        pose=part(swing.pose, start_s, end_s),
        club=replace(
            club,
            t_s=club.t_s[keep],
            deg=club.deg[keep],
            confidence=club.confidence[keep],
            grip_xy=club.grip_xy[keep],
            head_xy=club.head_xy[keep],
            head_confidence=club.head_confidence[keep],
        ),
        ball=replace(swing.ball, half_gap_s=1 / 120),
        exact=False,
        guess={
            "takeaway": window.takeaway_s,
            "top": window.top_s,
            "impact": window.impact_s,
            "finish": window.finish_s,
        },
    )


def found_in(
    swing: SwingTracks, start_s: float, end_s: float
) -> tuple[SwingWindow | None, dict[str, EventTime]]:
    """The window of the one swing in the cut clip, and its events as a readout would give them."""
    windows = find_swings(coarse(part(swing.pose, start_s, end_s)))
    assert len(windows) <= 1
    if not windows:
        return None, {}
    return windows[0], seen_events(
        detect_events(tracks_within(swing, windows[0], start_s, end_s)), windows[0]
    )


def wrong(
    events: dict[str, EventTime], truth: dict[str, EventTime], start_s: float, end_s: float
) -> dict[str, str]:
    """Events that are not where the truth has them, or that the clip doesn't hold at all."""
    out = {}
    for key, event in events.items():
        if not start_s - event.se_s <= truth[key].t_s <= end_s + event.se_s:
            out[key] = f"made up at {event.t_s:.2f}"
        elif abs(event.t_s - truth[key].t_s) > max(4 * event.se_s, 0.05):
            out[key] = f"off {event.t_s - truth[key].t_s:.3f} +- {event.se_s:.3f}"
    return out


@names
def test_a_clip_that_begins_anywhere_makes_up_no_event(name: str) -> None:
    swing, truth = truth_tracks(name)
    end_s = float(swing.pose.t_s[-1])
    bad, lost = {}, []
    for start_s in np.arange(0.0, truth["impact"].t_s, STEP_S):
        window, events = found_in(swing, float(start_s), end_s)
        if window is None:
            lost.append(float(start_s))
            continue
        if found := wrong(events, truth, float(start_s), end_s):
            bad[round(float(start_s), 2)] = found
        before, after = (truth["takeaway"].t_s + shift for shift in (-0.3, COARSE_S + 0.05))
        if start_s < before:
            assert not window.starts_late, start_s
            assert "takeaway" in events, start_s
        elif start_s > after:
            assert window.starts_late, start_s
            assert not {"address", "takeaway"} & set(events), start_s
    assert bad == {}
    # No swing is found only where its backswing is missing nearly whole.
    assert all(start_s > truth["top"].t_s - 0.3 for start_s in lost), lost


@names
def test_a_clip_that_ends_anywhere_makes_up_no_event(name: str) -> None:
    swing, truth = truth_tracks(name)
    last_s = float(swing.pose.t_s[-1])
    bad, lost = {}, []
    for end_s in np.arange(last_s, truth["top"].t_s, -STEP_S):
        window, events = found_in(swing, 0.0, float(end_s))
        if window is None:
            lost.append(float(end_s))
            continue
        if found := wrong(events, truth, 0.0, float(end_s)):
            bad[round(float(end_s), 2)] = found
        if end_s < truth["finish"].t_s - 0.15:
            assert window.ends_early, end_s
            assert "finish" not in events, end_s
    assert bad == {}
    assert all(end_s < truth["impact"].t_s + 0.15 for end_s in lost), lost
