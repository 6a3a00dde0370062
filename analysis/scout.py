"""Finding the swings in a coarse pose track: how many, where, from when to when."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from analysis.body import hand_height, middle, part_of, torso_px
from analysis.signal.gaps import fill_all
from analysis.types import Floats, PoseTrack

# All in torso lengths over the hips; seen on the rendered bench: address -0.4..-0.1, impact the same,
# top and finish 0.8..1.9. A pitch shot does not reach the upper bound and is not called a full swing.
LOW, HIGH = 0.45, 0.7
MAX_DOWN_S, MAX_THROUGH_S, MAX_BACK_S = 0.9, 1.1, 3.0
MAX_SLOW_MOTION = 10.0
# Through impact the hands are low for some 0.3 s; between a finish and the next backswing far longer.
MAX_LOW_S = 0.5
LEAD_IN_S, LEAD_OUT_S = 0.45, 0.35
STILL_TORSO_PER_S = 0.25


@dataclass(frozen=True, slots=True)
class SwingWindow:
    """Rough times of one swing, seconds; ``stretch`` > 1 marks a clip played in slow motion."""

    start_s: float
    takeaway_s: float
    top_s: float
    impact_s: float
    finish_s: float
    end_s: float
    stretch: float


def find_swings(pose: PoseTrack) -> tuple[SwingWindow, ...]:
    """Every full swing in a track sampled at 8 frames a second or more.

    A swing is: hands low and quiet, hands high, hands low again soon after, hands high again. If none
    is found at natural speed, the same shape is looked for in slow motion.

    Parameters
    ----------
    pose : PoseTrack
        Coarse track over the whole clip.

    Returns
    -------
    tuple of SwingWindow
        In order of time, windows don't overlap.
    """
    known = np.isfinite(middle(pose, "wrist")).all(1) & np.isfinite(middle(pose, "hip")).all(1)
    if known.sum() < 6 or not np.isfinite(torso_px(pose)):
        return ()
    height = fill_all(hand_height(pose)[:, None])[:, 0]
    speed = _hand_speed(pose)
    for stretch in (1.0, 4.0, MAX_SLOW_MOTION):
        found = _swings_at(pose.t_s, height, speed, stretch)
        if found:
            return _without_overlap(found)
    return ()


def _hand_speed(pose: PoseTrack) -> Floats:
    hands = fill_all(middle(pose, "wrist")) / torso_px(pose)
    steps = np.hypot(*np.gradient(hands, pose.t_s, axis=0).T)
    return np.asarray(steps)


def _swings_at(t_s: Floats, height: Floats, speed: Floats, stretch: float) -> list[SwingWindow]:
    found: list[SwingWindow] = []
    i = 1
    while i < len(t_s) - 1:
        window = _swing_with_valley(t_s, height, speed, i, stretch)
        if window is None:
            i += 1
            continue
        found.append(window)
        i = int(np.searchsorted(t_s, window.finish_s)) + 1
    return found


def _swing_with_valley(
    t_s: Floats, height: Floats, speed: Floats, i: int, stretch: float
) -> SwingWindow | None:
    """The swing whose impact is near sample ``i``, if the hands' height says so."""
    if height[i] > LOW or height[i] > height[i - 1] or height[i] > height[i + 1]:
        return None
    before = (t_s < t_s[i]) & (t_s >= t_s[i] - MAX_DOWN_S * stretch)
    after = (t_s > t_s[i]) & (t_s <= t_s[i] + MAX_THROUGH_S * stretch)
    if not before.any() or not after.any():
        return None
    if height[before].max() < HIGH or height[after].max() < HIGH:
        return None
    if _low_span_s(t_s, height, i) > MAX_LOW_S * stretch:
        return None
    top = _last_peak(height, np.flatnonzero(before))
    start = _takeaway(t_s, height, speed, top, stretch)
    if start is None:
        return None
    finish = _settled(t_s, speed, i, stretch)
    return SwingWindow(
        start_s=max(float(t_s[0]), float(t_s[start]) - LEAD_IN_S * stretch),
        takeaway_s=float(t_s[start]),
        top_s=float(t_s[top]),
        impact_s=float(t_s[i]),
        finish_s=float(t_s[finish]),
        end_s=min(float(t_s[-1]), float(t_s[finish]) + LEAD_OUT_S * stretch),
        stretch=stretch,
    )


def _low_span_s(t_s: Floats, height: Floats, i: int) -> float:
    """How long the hands stay below ``LOW`` around sample ``i``, seconds."""
    high = np.flatnonzero(height > LOW)
    left, right = high[high < i], high[high > i]
    start, end = (left[-1] if left.size else 0), (right[0] if right.size else len(height) - 1)
    return float(_level_time(t_s, height, end - 1, end) - _level_time(t_s, height, start, start + 1))


def _level_time(t_s: Floats, height: Floats, a: int, b: int) -> float:
    """Time between samples ``a`` and ``b`` at which the height is ``LOW``, by a straight line."""
    if height[a] == height[b] or (height[a] - LOW) * (height[b] - LOW) > 0:
        return float(t_s[b])
    share = (LOW - height[a]) / (height[b] - height[a])
    return float(t_s[a] + share * (t_s[b] - t_s[a]))


def _last_peak(height: Floats, index: Floats | np.ndarray) -> int:
    """Highest sample among ``index``; a plateau counts at its end."""
    values = height[index]
    near = np.flatnonzero(values >= values.max() - 0.05)
    return int(index[near[-1]])


def _takeaway(t_s: Floats, height: Floats, speed: Floats, top: int, stretch: float) -> int | None:
    """Last quiet sample with low hands before the top; None if the hands never were low."""
    limit = STILL_TORSO_PER_S / stretch
    earliest = t_s[top] - MAX_BACK_S * stretch
    low = [k for k in range(top) if t_s[k] >= earliest and height[k] < LOW]
    if not low:
        return None
    quiet = [k for k in low if speed[k] < limit]
    return quiet[-1] if quiet else low[0]


def _settled(t_s: Floats, speed: Floats, impact: int, stretch: float) -> int:
    """First sample at which the hands have come to rest after impact; else the last in reach."""
    reach = np.flatnonzero((t_s > t_s[impact] + 0.25 * stretch) & (t_s <= t_s[impact] + 2.0 * stretch))
    if reach.size == 0:
        return len(t_s) - 1
    quiet = reach[speed[reach] < 2 * STILL_TORSO_PER_S / stretch]
    return int(quiet[0]) if quiet.size else int(reach[-1])


def _without_overlap(found: list[SwingWindow]) -> tuple[SwingWindow, ...]:
    out: list[SwingWindow] = []
    for window in found:
        start = window.start_s
        if out:
            start = min(max(start, out[-1].finish_s), window.takeaway_s)
            out[-1] = replace(out[-1], end_s=min(out[-1].end_s, max(out[-1].finish_s, start)))
        out.append(replace(window, start_s=start))
    return tuple(out)


def address_part(pose: PoseTrack, window: SwingWindow) -> PoseTrack:
    """The track's frames at address: up to 0.4 s before the takeaway."""
    return part_of(pose, window.takeaway_s - 0.4 * window.stretch, window.takeaway_s)
