"""Instants at which the lead forearm or the shaft is level."""

from __future__ import annotations

import numpy as np

from analysis.events.crossing import crossing
from analysis.events.top import elevation_deg
from analysis.signal.smooth import smooth_track
from analysis.tracks import SwingTracks, unwrapped_deg
from analysis.types import EventTime, Floats

# The line from the shoulder landmark to the hands stands this far below level when the forearm is level,
# face-on (36 rendered golfers of 25 builds: -10 +- 3 degrees going back, -14.5 +- 2.3 coming down). Going back two
# degrees more are taken: with -10 the event came eight milliseconds late at the median (70 clips).
ARM_BACK_DEG, ARM_DOWN_DEG = -12.0, -14.5
ARM_HZ = 12.0
# Standard errors on the rendered bench, frames and the least seconds: (shaft, arm back, arm down) by view.
SHAFT_ERROR = {"face_on": (0.18, 0.003), "dtl": (0.5, 0.008)}
ARM_BACK_ERROR = {"face_on": (0.86, 0.014), "dtl": (1.6, 0.025)}
ARM_DOWN_ERROR = {"face_on": (0.45, 0.007), "dtl": (0.7, 0.010)}
# Down-the-line, going back, perspective shows the shaft level this much later than it is.
SEEN_LATE_BACK_S = 0.007


def _error(swing: SwingTracks, errors: dict[str, tuple[float, float]]) -> float:
    frames, seconds = errors[swing.view]
    return max(frames / swing.fps, seconds * swing.stretch)


def shaft_level(
    swing: SwingTracks, near_s: float, start_s: float, end_s: float, *, sinking: bool
) -> EventTime | None:
    """The shaft horizontal in the picture, in [start_s, end_s], nearest to ``near_s``.

    ``sinking``: the head comes down past the hands, as in the downswing; otherwise it rises past them. A long
    backswing takes it past level a second time, the other way.
    """
    t_s, deg = unwrapped_deg(swing.club, 0.35)
    found = crossing(t_s, np.sin(np.radians(deg)), near_s, start_s, end_s, rising=sinking)
    if found is None or _gap_at(t_s, found) > 2.5 / swing.fps:
        return None
    return EventTime(found, _error(swing, SHAFT_ERROR), f"shaft level in the picture ({swing.view})")


def _gap_at(t_s: Floats, when_s: float) -> float:
    i = int(np.clip(np.searchsorted(t_s, when_s), 1, len(t_s) - 1))
    return float(t_s[i] - t_s[i - 1])


def arm_level(swing: SwingTracks, start_s: float, end_s: float, *, back: bool) -> EventTime | None:
    """The lead forearm horizontal, going back or coming down.

    Face-on from the line lead shoulder to hands, whose offset to the forearm is known. Down-the-line the arm
    points at the camera then: the hands' height against the shoulder gives a rough time with an honest error.
    """
    pose = swing.pose
    shoulder = smooth_track(pose.t_s, pose.joint(f"{swing.lead}_shoulder"), ARM_HZ / swing.stretch)
    hands = smooth_track(pose.t_s, grip_track(swing), ARM_HZ / swing.stretch)
    offset = (ARM_BACK_DEG if back else ARM_DOWN_DEG) if swing.face_on else -35.0
    raised = elevation_deg(shoulder, hands) - offset
    near = start_s if not back else end_s
    found = crossing(pose.t_s, raised, near, start_s, end_s)
    if found is None:
        return None
    error = _error(swing, ARM_BACK_ERROR if back else ARM_DOWN_ERROR)
    return EventTime(found, error, f"lead arm level in the picture ({swing.view})")


def grip_track(swing: SwingTracks) -> Floats:
    """The hands (T, 2) on the pose's times: the club's grip where seen, else between the wrists."""
    pose, club = swing.pose, swing.club
    wrists = swing.hands()
    keep = club.confidence >= 0.6
    if keep.sum() < 2:
        return wrists
    t_s = club.t_s[keep]
    grip = np.stack([np.interp(pose.t_s, t_s, club.grip_xy[keep][:, d]) for d in (0, 1)], axis=1)
    index = np.clip(np.searchsorted(t_s, pose.t_s), 1, len(t_s) - 1)
    near = np.minimum(np.abs(t_s[index] - pose.t_s), np.abs(t_s[index - 1] - pose.t_s))
    return np.where((near <= 2.1 / swing.fps)[:, None], grip, wrists)
