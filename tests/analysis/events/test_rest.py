"""Takeaway and finish from several signals: what one of them gets wrong the others hold."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analysis.events.rest import finish_event, takeaway_event
from analysis.tracks import SwingTracks
from analysis.types import EventTime
from tests.analysis.changes import stored_swing
from tests.analysis.conftest import truth_tracks


def seen(name: str) -> tuple[SwingTracks, dict[str, EventTime]]:
    """Tracks measured from a clip and the truth's events."""
    return stored_swing(name), truth_tracks(name)[1]


def trembling(swing: SwingTracks, until_s: float) -> SwingTracks:
    """The same with a club that trembles at the ball by four degrees, six times a second."""
    club = swing.club
    off = np.where(club.t_s < until_s, 4.0 * np.sin(2 * np.pi * 6.0 * club.t_s), 0.0)
    turn = np.radians(off)
    arm = club.head_xy - club.grip_xy
    turned = np.stack(
        [
            arm[:, 0] * np.cos(turn) - arm[:, 1] * np.sin(turn),
            arm[:, 0] * np.sin(turn) + arm[:, 1] * np.cos(turn),
        ],
        axis=1,
    )
    return replace(swing, club=replace(club, deg=club.deg + off, head_xy=club.grip_xy + turned))


def test_a_trembling_club_is_no_takeaway() -> None:
    swing, truth = seen("fo_none")
    plain = takeaway_event(swing, truth["top"].t_s)
    shaken = takeaway_event(trembling(swing, truth["takeaway"].t_s), truth["top"].t_s)
    assert plain is not None and shaken is not None
    frames = [(event.t_s - truth["takeaway"].t_s) * swing.fps for event in (plain, shaken)]
    print(f"\ntakeaway off by {frames[0]:.2f} frames, with a trembling club {frames[1]:.2f}")
    assert abs(frames[0]) <= 1.5
    assert abs(frames[1]) <= 3.0
    assert abs(shaken.t_s - truth["takeaway"].t_s) <= 2.5 * shaken.se_s


def test_the_finish_holds_without_the_picture() -> None:
    swing, truth = seen("fo_none")
    both = finish_event(swing, truth["impact"].t_s)
    club_only = finish_event(replace(swing, motion_t_s=np.zeros(0), motion=np.zeros(0)), truth["impact"].t_s)
    assert both is not None and club_only is not None
    assert abs(both.t_s - truth["finish"].t_s) * swing.fps <= 4.0
    assert abs(club_only.t_s - truth["finish"].t_s) <= 2.5 * club_only.se_s
    assert club_only.se_s >= both.se_s
