"""Finding the swings in a coarse pose track: how many, where, from when to when."""

from __future__ import annotations

from collections.abc import Sequence
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
# From the top to impact: professionals 0.22..0.33 s, median 0.27 (Grober and Cholewicki 2006); a swing that
# takes twice the median is one played slower than it was swung.
USUAL_DOWN_S, SLOW_DOWN_S = 0.27, 0.52
# Backswing against downswing: professionals 3 (the same source), here far below the quickest amateurs.
LEAST_TEMPO = 1.4
# Hands of a full swing pass 6..15 torso lengths a second on the rendered bench sampled at 12 Hz; arms that are
# merely raised and lowered stay below 3.
LEAST_DOWN_SPEED = 3.5
# Through impact the hands are low for some 0.3 s; between a finish and the next backswing far longer.
MAX_LOW_S = 0.5
# From impact to the finish 0.55..0.75 s on the rendered bench; hands that still go faster than this at the
# clip's end (torso lengths a second) have not come to rest.
LEAST_THROUGH_S, RUSHING = 0.42, 2.0
LEAD_IN_S, LEAD_OUT_S = 0.45, 0.35
STILL_TORSO_PER_S = 0.25


@dataclass(frozen=True, slots=True)
class SwingWindow:
    """Rough times of one swing, seconds; ``stretch`` > 1 marks a clip played in slow motion.

    ``starts_late``: the clip begins after the takeaway. ``ends_early``: it ends before the hands come to rest.
    ``is_timed``: the clip's file says how many times slower it plays. ``hand_speed`` is the fastest the hands go on the
    way down, in torso lengths a second of real time.
    """

    start_s: float
    takeaway_s: float
    top_s: float
    impact_s: float
    finish_s: float
    end_s: float
    stretch: float
    starts_late: bool = False
    ends_early: bool = False
    hand_speed: float = float("nan")
    is_timed: bool = False


def find_swings(pose: PoseTrack, slow_motion: float | None = None) -> tuple[SwingWindow, ...]:
    """Every full swing in a track sampled at 8 frames a second or more.

    A swing is: hands low and quiet, hands high, hands low again soon after and fast, hands high again. The
    first part may lie before the clip, the last one after it. If none is found at natural speed, the same shape
    is looked for in slow motion.

    Parameters
    ----------
    pose : PoseTrack
        Coarse track over the whole clip.
    slow_motion : float, optional
        How many times slower than life the clip plays, where the file says so.

    Returns
    -------
    tuple of SwingWindow
        In order of time, windows don't overlap.
    """
    known = np.isfinite(middle(pose, "wrist")).all(1) & np.isfinite(middle(pose, "hip")).all(1)
    if known.sum() < 6 or not np.isfinite(torso_px(pose)):
        return ()
    height = fill_all(hand_height(pose)[:, None])[:, 0]
    speed, end_speed = _hand_speed(pose), _end_speed(pose)
    for stretch in (slow_motion,) if slow_motion else (1.0, 4.0, MAX_SLOW_MOTION):
        found = _swings_at(pose.t_s, height, speed, stretch, end_speed)
        if found and not slow_motion:
            stretch = _played_slower(found)
            found = _swings_at(pose.t_s, height, speed, stretch, end_speed) or found
            found = [w for w in found if w.stretch == 1.0 or _surely_slowed(w)]
        if found:
            return _without_overlap(found)
    return ()


def _played_slower(found: list[SwingWindow]) -> float:
    """How many times slower than life the swings go, 1 for usual downswings."""
    down_s = float(np.median([w.impact_s - w.top_s for w in found]))
    return 1.0 if down_s < SLOW_DOWN_S else min(down_s / USUAL_DOWN_S, 1.5 * MAX_SLOW_MOTION)


def _surely_slowed(window: SwingWindow) -> bool:
    """Whether a slow movement is a swing played slower: all of it is there, and up takes longer than down."""
    up_s, down_s = window.top_s - window.takeaway_s, window.impact_s - window.top_s
    return not (window.starts_late or window.ends_early) and up_s >= LEAST_TEMPO * down_s


def _hand_speed(pose: PoseTrack) -> Floats:
    """Speed (T,) of the hands in torso lengths a second, in the picture or against the hips, whichever is less.

    A trembling camera moves both alike, so that hands at rest stay at rest.
    """
    hands = fill_all(middle(pose, "wrist")) / torso_px(pose)
    hips = fill_all(middle(pose, "hip")) / torso_px(pose)
    steps = [np.hypot(*np.gradient(track, pose.t_s, axis=0).T) for track in (hands, hands - hips)]
    return np.asarray(np.minimum(*steps))


def _swings_at(
    t_s: Floats, height: Floats, speed: Floats, stretch: float, end_speed: float
) -> list[SwingWindow]:
    found: list[SwingWindow] = []
    i = 1
    while i < len(t_s) - 1:
        window = _swing_with_valley(t_s, height, speed, i, stretch, end_speed)
        if window is None:
            i += 1
            continue
        found.append(window)
        i = int(np.searchsorted(t_s, window.finish_s)) + 1
    return found


def _swing_with_valley(
    t_s: Floats, height: Floats, speed: Floats, i: int, stretch: float, end_speed: float
) -> SwingWindow | None:
    """The swing whose impact is near sample ``i``, if the hands' height and speed say so."""
    if height[i] > LOW or height[i] > height[i - 1] or height[i] > height[i + 1]:
        return None
    before = np.flatnonzero((t_s < t_s[i]) & (t_s >= t_s[i] - MAX_DOWN_S * stretch))
    if not before.size or height[before].max() < HIGH or _low_span_s(t_s, height, i) > MAX_LOW_S * stretch:
        return None
    top = _last_peak(height, before)
    down_speed = float(speed[top : i + 1].max()) * stretch
    start, late = _takeaway(t_s, height, speed, top, stretch)
    if start is None or down_speed < LEAST_DOWN_SPEED:
        return None
    finish, early = _finish(t_s, height, speed, i, stretch, end_speed)
    if finish is None:
        return None
    return SwingWindow(
        start_s=max(float(t_s[0]), float(t_s[start]) - LEAD_IN_S * stretch),
        takeaway_s=float(t_s[start]),
        top_s=float(t_s[top]),
        impact_s=float(t_s[i]),
        finish_s=float(t_s[finish]),
        end_s=min(float(t_s[-1]), float(t_s[finish]) + LEAD_OUT_S * stretch),
        stretch=stretch,
        starts_late=late,
        ends_early=early,
        hand_speed=down_speed,
    )


def _end_speed(pose: PoseTrack) -> float:
    """How fast the hands still go at the end of the clip, torso lengths a second.

    The lesser of two witnesses: the speed from picture to picture, which jitter raises, and the way over the last
    quarter of a second, which a turn shortens.
    """
    hands = fill_all(middle(pose, "wrist")) / torso_px(pose)
    back = min(3, len(hands) - 1)
    way = float(np.hypot(*(hands[-1] - hands[-1 - back])) / (pose.t_s[-1] - pose.t_s[-1 - back]))
    return min(way, float(np.median(_hand_speed(pose)[-3:])))


def _finish(
    t_s: Floats, height: Floats, speed: Floats, i: int, stretch: float, end_speed: float
) -> tuple[int | None, bool]:
    """Where the hands come to rest after impact, and whether the clip ends before; None if they stay low."""
    after = np.flatnonzero((t_s > t_s[i]) & (t_s <= t_s[i] + MAX_THROUGH_S * stretch))
    left_s = float(t_s[-1] - t_s[i]) / stretch
    if after.size and height[after].max() >= HIGH:
        rushing = end_speed * stretch > RUSHING
        finish = _settled(t_s, speed, i, stretch)
        return finish, finish == len(t_s) - 1 and (rushing or left_s < LEAST_THROUGH_S)
    return (len(t_s) - 1, True) if left_s < MAX_THROUGH_S / 2 else (None, False)


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


def _takeaway(
    t_s: Floats, height: Floats, speed: Floats, top: int, stretch: float
) -> tuple[int | None, bool]:
    """Last quiet sample with low hands before the top, and whether the clip begins after it.

    None if the hands were never low although the clip shows enough of what went before, or if the clip begins
    at the top.
    """
    limit = STILL_TORSO_PER_S / stretch
    earliest = t_s[top] - MAX_BACK_S * stretch
    low = [k for k in range(top) if t_s[k] >= earliest and height[k] < LOW]
    if not low:
        begins_high = top > 0 and t_s[0] >= earliest and height[0] < height[top] - 0.1
        return (0, True) if begins_high else (None, False)
    quiet = [k for k in low if speed[k] < limit]
    if quiet:
        return quiet[-1], False
    return low[0], low[0] == 0


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
    """The track's frames at address: up to 0.4 s before the takeaway; without any of the golfer the nearest with."""
    part = part_of(pose, window.takeaway_s - 0.4 * window.stretch, window.takeaway_s)
    known = np.isfinite(pose.xy).all((1, 2))
    if np.isfinite(part.xy).all((1, 2)).any() or not known.any():
        return part
    nearest = float(pose.t_s[known][np.argmin(np.abs(pose.t_s[known] - window.takeaway_s))])
    return part_of(pose, nearest, nearest)


@dataclass(frozen=True, slots=True)
class Choice:
    """Which of several people is the golfer, and how many others of like size swing too."""

    golfer: int
    rivals: int


# Someone swinging in the next bay stands further away; above this share of the golfer's size it is a rival.
RIVAL_SIZE = 0.7


def choose_golfer(tracks: Sequence[PoseTrack]) -> Choice:
    """The golfer among several people: who swings; of several who swing the largest.

    Parameters
    ----------
    tracks : sequence of PoseTrack
        One coarse track a person, the largest person first; at least one.

    Returns
    -------
    Choice
        The first person if nobody swings.

    Raises
    ------
    ValueError
        If there is no track.
    """
    if not tracks:
        raise ValueError("tracks must hold at least one person, got 0")
    swinging = [k for k, track in enumerate(tracks) if find_swings(track)]
    if not swinging:
        return Choice(0, 0)
    size = {k: torso_px(tracks[k]) for k in swinging}
    golfer = max(swinging, key=lambda k: size[k])
    rivals = sum(size[k] >= RIVAL_SIZE * size[golfer] for k in swinging if k != golfer)
    return Choice(golfer, rivals)


def hand_travel(pose: PoseTrack) -> float:
    """How far the hands get from their middle place, torso lengths (95th percentile); NaN when unseen."""
    hands = (middle(pose, "wrist") - middle(pose, "hip")) / torso_px(pose)
    known = hands[np.isfinite(hands).all(1)]
    if len(known) == 0:
        return float("nan")
    return float(np.percentile(np.hypot(*(known - np.median(known, axis=0)).T), 95))
