"""Draws of where joints, hands and shaft may have been, so that every metric carries its own error."""

from __future__ import annotations

import zlib
from collections.abc import Mapping

import numpy as np

from analysis.events.level import grip_track
from analysis.geometry import direction_deg
from analysis.metrics import noise
from analysis.metrics.offsets import anchor_times, offsets_at
from analysis.signal.smooth import smooth_track
from analysis.tracks import SwingTracks, unwrapped_deg
from analysis.types import JOINT_INDEX, JOINTS, EventTime, Floats

SAMPLES = 192
SEED = 20240607
# The golfer stands still for at least this long before the takeaway: places at address are medians over it.
STILL_S = 0.25
BODY_HZ, HANDS_HZ = 10.0, 14.0
FAST_JOINTS = ("elbow", "wrist", "index")


class Missing(Exception):
    """A metric can't be computed; the message is the reason shown to people."""


class Sampler:
    """Positions at instants, ``SAMPLES`` draws each; draw 0 is the undisturbed measurement.

    Parameters
    ----------
    swing : SwingTracks
    events : mapping of str to EventTime
    """

    def __init__(self, swing: SwingTracks, events: Mapping[str, EventTime]) -> None:
        self.swing = swing
        self.events = events
        self.stature_px = swing.stature_px
        self._tracks: dict[str, Floats] = {}
        self._times = {
            name: event.t_s + event.se_s * self._normal(f"time {name}") for name, event in events.items()
        }
        self._anchors = anchor_times(events, swing.stretch)
        self._grip: Floats | None = None

    def _normal(self, key: str, *shape: int) -> Floats:
        """Standard normal draws (S, ...), always the same for the same key; draw 0 is zero."""
        random = np.random.default_rng([SEED, zlib.crc32(key.encode())])
        draws = random.standard_normal((SAMPLES, *shape))
        draws[0] = 0.0
        return draws

    def extra(self, key: str, sd: float) -> Floats:
        """Zero-mean draws (S,) with standard deviation ``sd``."""
        return sd * self._normal(f"extra {key}")

    def times(self, event: str, shift_s: float = 0.0) -> Floats:
        """Times (S,) of an event, seconds; ``shift_s`` in real time."""
        if event not in self._times:
            raise Missing(f"the {event.replace('_', ' ')} could not be placed")
        return self._times[event] + shift_s * self.swing.stretch

    def _track(self, joint: str) -> Floats:
        if joint not in self._tracks:
            self._tracks[joint] = smoothed_joint(self.swing, joint)
        return self._tracks[joint]

    def joint(self, joint: str, event: str, shift_s: float = 0.0, *, as_seen: bool = False) -> Floats:
        """Draws (S, 2) of a joint's place at an event, pixels; ``as_seen``: where the pose model puts it.

        ``lead_`` and ``trail_`` prefixes are resolved by the golfer's handedness.

        Raises
        ------
        Missing
            If the joint is hidden there.
        """
        name = self._sided(joint)
        times = self.times(event, shift_s)
        place = self._at(self._still(self._track(name), event, shift_s), times)
        if not np.isfinite(place[0]).all():
            raise Missing(f"the {joint.replace('_', ' ')} is hidden at {event.replace('_', ' ')}")
        place = np.where(np.isfinite(place), place, place[0])
        offset, scatter = offsets_at(self.swing, name, self._anchors, times, self.stature_px)
        common = noise.COMMON_SHARE * self._normal(name, 2)
        own = np.sqrt(1 - noise.COMMON_SHARE**2) * self._normal(f"{name} {event} {shift_s:.3f}", 2)
        if self.swing.exact or as_seen:
            return np.asarray(place + scatter * (common + own))
        trusted = self._by_hand(name, times)
        return np.asarray(place - (1 - trusted) * offset + scatter * (common + own))

    def _by_hand(self, joint: str, times: Floats) -> Floats:
        """How far (S, 1) a joint's place is a coach's word, 0..1."""
        weight = self.swing.by_hand.get(joint)
        if weight is None:
            return np.zeros((len(times), 1))
        return np.interp(times, self.swing.pose.t_s, weight)[:, None]

    def _sided(self, joint: str) -> str:
        joint = joint.replace("lead_", f"{self.swing.lead}_").replace("trail_", f"{self.swing.trail}_")
        if joint not in JOINTS:
            raise ValueError(f"joint must be one of {JOINTS} or lead_/trail_, got {joint!r}")
        return joint

    def _still(self, track: Floats, event: str, shift_s: float) -> Floats:
        """The track itself; at address, where the golfer stands still, its median over that time throughout."""
        if event != "address" or shift_s:
            return track
        t_s, end = self.swing.pose.t_s, self.times(event)[0]
        still = track[(t_s <= end + 1e-6) & (t_s >= end - STILL_S * self.swing.stretch)]
        if still.shape[0] < 3 or not np.isfinite(still).any():
            return track
        return np.broadcast_to(np.nanmedian(still, axis=0), track.shape)

    def _at(self, track: Floats, times: Floats) -> Floats:
        t_s = self.swing.pose.t_s
        if not t_s[0] - 0.05 <= times[0] <= t_s[-1] + 0.05:
            raise Missing("the clip does not reach that far")
        return np.stack([np.interp(times, t_s, track[:, d]) for d in (0, 1)], axis=1)

    def middle(self, part: str, event: str, shift_s: float = 0.0) -> Floats:
        """Draws (S, 2) of the point between the left and right ``part``."""
        left = self.joint(f"left_{part}", event, shift_s)
        return (left + self.joint(f"right_{part}", event, shift_s)) / 2

    def hands(self, event: str, shift_s: float = 0.0) -> Floats:
        """Draws (S, 2) of the hands: the club's grip where seen, else between the wrists."""
        place = self._at(self.hands_track(), self.times(event, shift_s))
        if not np.isfinite(place[0]).all():
            raise Missing(f"the hands are hidden at {event.replace('_', ' ')}")
        return place + noise.GRIP * self.stature_px * self._normal(f"hands {event} {shift_s:.3f}", 2)

    def hands_track(self) -> Floats:
        """The hands' smoothed track (T, 2) on the pose's times, pixels."""
        if self._grip is None:
            pose = self.swing.pose
            self._grip = smooth_track(pose.t_s, grip_track(self.swing), HANDS_HZ / self.swing.stretch)
        return self._grip

    def shaft_deg(self, event: str, shift_s: float = 0.0) -> Floats:
        """Draws (S,) of the shaft's picture direction, degrees, continuous in time.

        Raises
        ------
        Missing
            If the shaft is unseen within two frames of the instant.
        """
        t_s, deg = unwrapped_deg(self.swing.club)
        times = self.times(event, shift_s)
        if t_s.size < 2 or np.abs(t_s - times[0]).min() > 2.1 / self.swing.fps:
            raise Missing(f"the shaft is unseen at {event.replace('_', ' ')}")
        at_rest = deg[(t_s <= times[0] + 1e-6) & (t_s >= times[0] - STILL_S * self.swing.stretch)]
        if event == "address" and not shift_s and at_rest.size >= 3:
            deg = np.full_like(deg, np.median(at_rest))
        return np.interp(times, t_s, deg) + noise.SHAFT_DEG * self._normal(f"shaft {event} {shift_s:.3f}")

    def forearm_deg(self, event: str, shift_s: float = 0.0) -> Floats:
        """Draws (S,) of the picture direction lead wrist to lead elbow, degrees.

        Where the elbow is hidden the line to the shoulder stands in, with a wider error.
        """
        wrist = self.joint("lead_wrist", event, shift_s)
        try:
            return direction_deg(wrist, self.joint("lead_elbow", event, shift_s))
        except Missing:
            line = direction_deg(wrist, self.joint("lead_shoulder", event, shift_s))
            return line + self.extra(f"elbow {event}", noise.HIDDEN_ELBOW_DEG)

    def along(self, xy: Floats) -> Floats:
        """Horizontal share (S,) of ``xy`` (S, 2) in the view's positive sense, pixels."""
        return np.asarray(self.swing.plus_x * xy[:, 0])

    def stance_px(self) -> Floats:
        """Draws (S,) of the ankles' spacing at address in the view's positive sense, pixels."""
        spread = self.joint("lead_ankle", "address") - self.joint("trail_ankle", "address")
        return np.abs(spread[:, 0])


def smoothed_joint(swing: SwingTracks, joint: str) -> Floats:
    """A joint's track (T, 2), pixels: what is hidden left out, short gaps bridged, low-passed."""
    pose = swing.pose
    cutoff = (HANDS_HZ if joint.endswith(FAST_JOINTS) else BODY_HZ) / swing.stretch
    xy = pose.joint(joint).copy()
    xy[pose.confidence[:, JOINT_INDEX[joint]] < noise.LEAST_CONFIDENCE] = np.nan
    return smooth_track(pose.t_s, xy, cutoff)
