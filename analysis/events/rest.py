"""Where the motion begins and where it ends: takeaway, address, finish.

A hand holding the phone moves a resting clubhead in the picture about as fast as a takeaway begins: what the ground
does is taken off first.
"""

from __future__ import annotations

import numpy as np

from analysis.body import middle
from analysis.events.crossing import onset, onset_fit
from analysis.tracks import SwingTracks, unwrapped_deg
from analysis.types import EventTime, Floats

# Levels of the onset rule (the second is four times the first): degrees of turn, shares of the height.
TURN_LEVELS_DEG = ((3.0, 12.0), (6.0, 24.0))
HEAD_LEVELS = ((0.01, 0.04), (0.02, 0.08))
HANDS_LEVELS = (0.015, 0.06)
# Face-on, seconds of the real swing: how far each signal usually lies from the first motion (rendered swings).
HANDS_LATE_S, HEAD_EARLY_S, TURN_EARLY_S = 0.018, 0.007, 0.004
# Signals further apart than this: one of them slipped.
TORN_S = 0.06
# Candidates further from the others than this are slips of one of the two signals.
AGREE_S = 0.08
# Down-the-line: the way of the clubhead is fitted up to these shares of the height from its resting place, each from
# these shares of the backswing before, and the mean of the middle half of the fits taken: one alone depends on where
# it happens to end.
# The fitted start lies so much after the clubhead passes a tenth of a metre a second (rendered swings).
FIT_REACHES, FIT_BACKS, FIT_LATE_S = (0.10, 0.15, 0.22), (0.5, 0.6, 0.75), 0.016
FIT_SPAN_S = (0.3, 0.04)
FIT_AGREES_FRAMES, FIT_LEVELS = 2.5, (0.0065, 0.026)
# A short follow-through comes nowhere near the first levels; the others are less sure.
FINISH_LEVELS = ((0.04, 0.16), (0.03, 0.12), (0.02, 0.08))
# The head is slower than the quarter metre a second that ends a swing this much before it stands still; the picture
# is still this much before. The head's way into its place tells more than the picture.
FINISH_LEAD_S, STILL_EARLY_S, HEAD_SHARE, UNSURE_HEAD_SHARE = 0.045, 0.025, 0.75, 0.5
QUIET_SHARE = 0.15
# A rest shorter than this or half a frame is the clip's end, not the swing's: whatever moves seems to stop there.
REST_SEEN_S = 0.015
# With less rest than this before the takeaway, the fit can't tell rest from slow motion.
SHORT_REST_S, SHORT_REST_SE_S = 0.15, 0.06
FINISH_AGREE_S = 0.12
# A club unseen for so long at the end of a clip was lost.
CLUB_LOST_S = 0.1


def takeaway_event(swing: SwingTracks, top_s: float) -> EventTime | None:
    """First motion of the club away from the ball.

    Down-the-line by a broken line through the clubhead's places (the club swings toward the camera there, its
    direction hardly changes); face-on by clubhead, shaft direction and hands together. Without a club by the
    hands alone, less surely.
    """
    frame_s = 1 / swing.fps
    fitted = None if swing.face_on else _head_started(swing, top_s)
    if fitted is not None:
        return fitted
    start = swing.guess["takeaway"]
    head = _head_moved(swing, start, top_s)
    levels = HEAD_LEVELS if swing.face_on else HEAD_LEVELS[:1]
    found = [onset(*head, *pair) for pair in levels]
    hands = onset(*_hands_moved(swing, start, top_s), *HANDS_LEVELS)
    if swing.face_on and hands is not None and not swing.exact:
        turned = onset(*_turned(swing, start, top_s), *TURN_LEVELS_DEG[1])
        return _takeaway_of(found[1], turned, hands, swing)
    if swing.face_on:
        turned_away = _turned(swing, start, top_s)
        found += [onset(*turned_away, *pair) for pair in TURN_LEVELS_DEG]
    known = np.array([f for f in found if f is not None])
    if known.size:
        middle_one = np.sort(known)[known.size // 2]
        near = known[np.abs(known - middle_one) <= AGREE_S * swing.stretch]
        return EventTime(
            float(near.max()), max(1.0 * frame_s, 0.008 * swing.stretch), "club leaves its resting place"
        )
    if hands is None:
        return None
    return EventTime(hands, 0.05 * swing.stretch, "hands leave their resting place")


def _takeaway_of(head: float | None, turned: float | None, hands: float, swing: SwingTracks) -> EventTime:
    """From clubhead, shaft direction and hands: half their median, half the hands, each with its usual lag removed.

    A club that trembles at the ball misleads the first two together; hands start late but evenly so.
    """
    hands -= HANDS_LATE_S * swing.stretch
    club = [
        when + early * swing.stretch
        for when, early in ((head, HEAD_EARLY_S), (turned, TURN_EARLY_S))
        if when is not None
    ]
    if not club:
        return EventTime(hands, 0.025 * swing.stretch, "hands leave their resting place")
    both = [*club, hands]
    torn = max(both) - min(both) > TORN_S * swing.stretch
    se_s = max(0.8 / swing.fps, 0.012 * swing.stretch) * (1.5 if torn else 1.0)
    return EventTime((float(np.median(both)) + hands) / 2, se_s, "club and hands leave their resting place")


def _head_started(swing: SwingTracks, top_s: float) -> EventTime | None:
    club, stretch = swing.club, swing.stretch
    keep = (club.t_s < top_s) & (club.confidence >= 0.5)
    t_s = club.t_s[keep]
    head = swing.held_still(t_s, club.head_xy[keep]) / swing.stature_px
    if t_s.size < 10:
        return None
    guess = swing.guess["takeaway"]
    away = np.hypot(*(head - np.median(head[_resting(t_s, guess, stretch)], axis=0)).T)
    fits = [
        _fitted_start(t_s, head, away, reach, back * (top_s - guess), swing)
        for reach in FIT_REACHES
        for back in FIT_BACKS
    ]
    known = [fit for fit in fits if fit is not None]
    if not known:
        return None
    quarter = len(known) // 4
    start = float(np.mean(np.sort(known)[quarter : len(known) - quarter]))
    by_place = onset(t_s, _moved(t_s, head, _resting(t_s, guess, stretch), 1.0), *FIT_LEVELS)
    agrees = by_place is not None and abs(by_place - start) <= FIT_AGREES_FRAMES / swing.fps
    frames = 0.75 if agrees else 1.2
    when = max(float(t_s[0]), start - FIT_LATE_S * stretch)
    is_short = start - float(t_s[0]) < SHORT_REST_S * stretch
    se_s = max(frames / swing.fps, (SHORT_REST_SE_S if is_short else 0.01) * stretch)
    return EventTime(when, se_s, "clubhead's way begins to bend (down-the-line)")


def _fitted_start(
    t_s: Floats, head: Floats, away: Floats, reach: float, back_s: float, swing: SwingTracks
) -> float | None:
    """Where the clubhead's way begins to bend, seen up to ``reach`` heights away, from ``back_s`` before."""
    stretch = swing.stretch
    gone = (away[:-1] > reach) & (away[1:] > reach) & (t_s[:-1] > swing.guess["takeaway"] - 0.3 * stretch)
    if not gone.any():
        return None
    end = float(t_s[:-1][gone][0])
    near = (t_s >= end - back_s) & (t_s <= end)
    first, last = (end - span * stretch for span in FIT_SPAN_S)
    candidates = np.arange(max(first, float(t_s[near][0])), last, 0.2 / swing.fps)
    return onset_fit(t_s[near], head[near], candidates)


def _resting(t_s: Floats, start_s: float, stretch: float) -> np.ndarray:
    rest = (t_s <= start_s) & (t_s >= start_s - 0.4 * stretch)
    if rest.sum() < 3:
        rest = np.zeros(len(t_s), bool)
        rest[: min(3, len(t_s))] = True
    return np.asarray(rest)


def _turned(swing: SwingTracks, start_s: float, top_s: float) -> tuple[Floats, Floats]:
    t_s, deg = unwrapped_deg(swing.club)
    keep = t_s < top_s
    t_s, deg = t_s[keep], deg[keep]
    if t_s.size < 6:
        return t_s, deg
    rest = _resting(t_s, start_s, swing.stretch)
    away = np.clip(swing.plus_x * (deg - np.median(deg[rest])), 0, None)
    noise = float(np.median(np.abs(away[rest])))
    return t_s, np.clip(away - noise, 0, None)


def _moved(t_s: Floats, xy: Floats, rest: np.ndarray, unit_px: float) -> Floats:
    away = np.hypot(*(xy - np.median(xy[rest], axis=0)).T) / unit_px
    return np.asarray(np.clip(away - float(np.median(away[rest])), 0, None))


def _head_moved(swing: SwingTracks, start_s: float, top_s: float) -> tuple[Floats, Floats]:
    club = swing.club
    keep = (club.t_s < top_s) & (club.confidence >= 0.5)
    t_s, head = club.t_s[keep], club.head_xy[keep]
    if t_s.size < 6:
        return t_s, np.zeros(t_s.size)
    head = swing.held_still(t_s, head)
    return t_s, _moved(t_s, head, _resting(t_s, start_s, swing.stretch), swing.stature_px)


def _hands_moved(swing: SwingTracks, start_s: float, top_s: float) -> tuple[Floats, Floats]:
    pose = swing.pose
    hands = middle(pose, "wrist")
    keep = (pose.t_s < top_s) & np.isfinite(hands).all(1)
    t_s = pose.t_s[keep]
    if t_s.size < 6:
        return t_s, np.zeros(t_s.size)
    still = swing.held_still(t_s, hands[keep])
    return t_s, _moved(t_s, still, _resting(t_s, start_s, swing.stretch), swing.stature_px)


def address_event(takeaway: EventTime, swing: SwingTracks) -> EventTime:
    """The last still frame: one frame before the takeaway."""
    frame_s = 1 / swing.fps
    return EventTime(
        max(float(swing.pose.t_s[0]), takeaway.t_s - frame_s), takeaway.se_s, "one frame before the takeaway"
    )


def finish_event(swing: SwingTracks, impact_s: float) -> EventTime | None:
    """Where club and golfer come to rest after the follow-through.

    Face-on from the clubhead's way into its last place and from the stillness of the picture; down-the-line,
    where the club is mostly hidden then, from the picture alone. Without both from the hands. None where the clip
    ends before the club rests.
    """
    frame_s = 1 / swing.fps
    still = _picture_still(swing, impact_s)
    club = swing.club
    late = (club.t_s > impact_s + 0.25 * swing.stretch) & (club.confidence >= 0.5)
    head = _without_jumps(club.head_xy[late])
    ends = [_end_of(club.t_s[late], head, swing, levels) for levels in FINISH_LEVELS]
    if swing.face_on and any(end is not None for end in ends):
        if _rests(ends, club.t_s[late], swing):
            return _finish_of(ends, still, swing)
        # The clip is over before the club rests; or the club was lost on its way, and the picture tells.
        if still is None or float(swing.pose.t_s[-1] - club.t_s[late][-1]) < CLUB_LOST_S * swing.stretch:
            return None
    if still is not None:
        return EventTime(still, max(3.0 * frame_s, 0.045 * swing.stretch), "picture comes to rest")
    pose = swing.pose
    hands = middle(pose, "wrist")
    late = (pose.t_s > impact_s + 0.25 * swing.stretch) & np.isfinite(hands).all(1)
    end = _end_of(pose.t_s[late], hands[late], swing)
    if end is None or not _rests([end], pose.t_s[late], swing):
        return None
    return EventTime(end, 0.1 * swing.stretch, "hands come to rest")


def _without_jumps(xy: Floats) -> Floats:
    """Median over three neighbours: one misplaced answer at rest would look like a swing that goes on."""
    if len(xy) < 3:
        return xy
    padded = np.concatenate([xy[:1], xy, xy[-1:]])
    return np.asarray(np.median(np.stack([padded[:-2], padded[1:-1], padded[2:]]), axis=0))


def _rests(ends: list[float | None], t_s: Floats, swing: SwingTracks) -> bool:
    """Whether what came to rest at the first known of ``ends`` is seen resting."""
    end = next(end for end in ends if end is not None)
    return bool(float(t_s[-1]) - end >= max(REST_SEEN_S * swing.stretch, 0.5 / swing.fps))


def _finish_of(ends: list[float | None], still: float | None, swing: SwingTracks) -> EventTime:
    head = next(end for end in ends if end is not None) - FINISH_LEAD_S * swing.stretch
    sure, when = ends[0] is not None, head
    agree = False
    if still is not None:
        still += STILL_EARLY_S * swing.stretch
        agree = abs(still - head) <= FINISH_AGREE_S * swing.stretch
        share = HEAD_SHARE if sure else UNSURE_HEAD_SHARE
        # A misread clubhead or a flicker of the picture only ever makes rest seem to come later.
        when = share * head + (1 - share) * still if agree else min(head, still)
    se_s = (0.024 if agree and sure else 0.035 if sure else 0.06) * swing.stretch
    return EventTime(when, max(se_s, 0.75 / swing.fps), "clubhead comes to rest")


def _picture_still(swing: SwingTracks, impact_s: float) -> float | None:
    """Last frame whose change exceeds the resting level by 15 % of the follow-through's, and its neighbour's too.

    A picture may change once, by noise or compression, long after the golfer has come to rest.
    """
    late = swing.motion_t_s > impact_s + 0.3 * swing.stretch
    t_s, change = swing.motion_t_s[late], swing.motion[late]
    if t_s.size < 12:
        return None
    floor, moving = float(np.median(change[-5:])), float(np.median(change[:4]))
    is_busy = change > floor + QUIET_SHARE * (moving - floor)
    busy = np.flatnonzero(is_busy & (np.r_[False, is_busy[:-1]] | np.r_[is_busy[1:], False]))
    if moving < 3 * floor or busy.size == 0 or busy[-1] + 2 >= t_s.size:
        return None
    return float(t_s[busy[-1] + 1])


def _end_of(
    t_s: Floats, xy: Floats, swing: SwingTracks, levels: tuple[float, float] = FINISH_LEVELS[0]
) -> float | None:
    if t_s.size < 8:
        return None
    rest = np.zeros(t_s.size, bool)
    rest[-max(3, t_s.size // 7) :] = True
    away = _moved(t_s, xy, rest, swing.stature_px)
    found = onset(-t_s[::-1], away[::-1], *levels)
    return None if found is None else -found
