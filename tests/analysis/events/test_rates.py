"""Events at other frame rates: the truth of rendered swings, sampled as a camera of that rate samples it.

The errors put on joints, grip and shaft are those that pose model and shaft network made on a vendored clip of the same
view (measured tracks minus truth, moved a little in time and turned over at random).
The bars are the engine's: top and impact in frames of the clip's own rate, median half a frame and nine in ten within
one; clips of 120 and 240 frames a second are measured at 60 and 80, where the joints' errors, not the frames,
limit the top.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from analysis.body import stature_px
from analysis.events import detect_events
from analysis.hands import with_fused_wrist
from analysis.tracks import SwingTracks
from analysis.types import BallMark, ClubTrack, EventTime, Floats
from tests.analysis.changes import stored_swing
from tests.analysis.conftest import TRUTH_NAMES, truth_tracks

# What the close pass keeps of a clip of each rate (`adapters.watch.MEASURE_HZ`); None: as phones vary it.
RATES = {"24": 24.0, "30": 30.0, "60": 60.0, "120": 60.0, "240": 80.0, "variable": None}
BOTH = ("takeaway", "top", "impact")
FACE_ON = (
    "shaft_parallel_back",
    "lead_arm_parallel_back",
    "lead_arm_parallel_down",
    "delivery_shaft_parallel",
    "shaft_parallel_through",
)


def times_at(rate: float | None, last_s: float, rng: np.random.Generator) -> Floats:
    """Frame times of a steady rate, with the first frame anywhere; None: as phones vary it, 24 to 60 a second."""
    if rate is not None:
        return np.arange(rng.uniform(0, 1 / rate), last_s, 1 / rate)
    steps = rng.choice([1 / 60, 1 / 48, 1 / 30, 1 / 24], size=round(last_s * 60), p=[0.6, 0.15, 0.2, 0.05])
    t_s = np.cumsum(steps)
    return t_s[t_s < last_s]


@cache
def errors_of(view: str) -> tuple[Floats, Floats, Floats, Floats, dict[str, float]]:
    """What was measured minus what is so, on the clip without a fault: times, joints, grip and shaft; its events."""
    name = "fo_none" if view == "face_on" else "dtl_none"
    (seen, truth), (_, events) = (stored_swing(name), truth_tracks(name)[0]), truth_tracks(name)
    t_s = seen.pose.t_s[np.isfinite(seen.pose.xy).all((1, 2))]
    joints = _at(seen.pose.t_s, seen.pose.xy, t_s) - _at(truth.pose.t_s, truth.pose.xy, t_s)
    sure = seen.club.confidence >= 0.5
    grip = _at(seen.club.t_s[sure], seen.club.grip_xy[sure], t_s) - _at(
        truth.club.t_s, truth.club.grip_xy, t_s
    )
    turn = [np.unwrap(np.radians(club)) for club in (seen.club.deg[sure], truth.club.deg)]
    shaft = np.degrees(_at(seen.club.t_s[sure], turn[0], t_s) - _at(truth.club.t_s, turn[1], t_s))
    shaft = (shaft + 180) % 360 - 180
    scale = 1 / stature_px(truth.pose)
    return t_s, joints * scale, grip * scale, shaft, {name: event.t_s for name, event in events.items()}


def _at(t_s: Floats, values: Floats, times: Floats) -> Floats:
    """Linear, each column, held at the ends."""
    flat = values.reshape(len(t_s), -1)
    columns = [np.interp(times, t_s, flat[:, i]) for i in range(flat.shape[1])]
    return np.stack(columns, -1).reshape(len(times), *values.shape[1:])


def sampled(
    swing: SwingTracks, truth: dict[str, EventTime], t_s: Floats, rng: np.random.Generator
) -> SwingTracks:
    """The swing as a camera with these frame times, the pose model and the shaft network see it."""
    pose, club = swing.pose, swing.club
    stature = stature_px(pose)
    when, joints, grip, shaft, known = errors_of(swing.view)
    # The same moments of both swings lie over each other, give or take 60 ms.
    names = ("takeaway", "top", "impact", "finish")
    there = np.interp(t_s, [truth[n].t_s for n in names], [known[n] for n in names]) + rng.uniform(
        -0.06, 0.06
    )
    side = rng.choice([-1.0, 1.0])
    xy = PchipInterpolator(pose.t_s, pose.xy)(t_s) + stature * _at(when, joints, there) * [side, 1.0]
    turned = PchipInterpolator(club.t_s, np.unwrap(np.radians(club.deg)))(t_s)
    deg = np.degrees(turned) + side * _at(when, shaft, there)
    off = stature * _at(when, grip, there) * [side, 1.0]
    ends = [PchipInterpolator(club.t_s, ends)(t_s) + off for ends in (club.grip_xy, club.head_xy)]
    seen = np.interp(t_s, club.t_s, club.confidence)
    later = int(np.searchsorted(t_s, truth["impact"].t_s))
    gap = float(t_s[later] - t_s[later - 1])
    gone = BallMark(swing.ball.xy, float(t_s[later - 1 : later + 1].mean()), gap / 2)
    rough = rng.uniform(-0.04, 0.04, 4)
    return with_fused_wrist(
        replace(
            swing,
            pose=replace(pose, t_s=t_s, xy=xy, confidence=np.full((len(t_s), xy.shape[1]), 0.95)),
            club=ClubTrack(t_s, (deg + 180) % 360 - 180, seen, *ends, np.ones(len(t_s))),
            ball=gone,
            fps=1 / float(np.median(np.diff(t_s))),
            guess={name: t + d for (name, t), d in zip(swing.guess.items(), rough, strict=True)},
            exact=False,
        )
    )


@cache
def offs(name: str, rate: str) -> dict[str, tuple[float, float, float]]:
    """By event: how far off in seconds, the stated standard error, and the frame's length there."""
    rng = np.random.default_rng([TRUTH_NAMES.index(name), list(RATES).index(rate)])
    swing, truth = truth_tracks(name)
    t_s = times_at(RATES[rate], float(swing.pose.t_s[-1]), rng)
    found: dict[str, EventTime] = detect_events(sampled(swing, truth, t_s, rng))
    frame = float(np.median(np.diff(t_s))) if RATES[rate] else 1 / 30
    wanted = BOTH + (FACE_ON if name.startswith("fo_") else ())
    return {
        event: (found[event].t_s - truth[event].t_s, found[event].se_s, frame)
        for event in wanted
        if event in found
    }


def gathered(rate: str, event: str) -> Floats:
    """Rows of off, standard error and frame (N, 3) over all truth files that have the event in view."""
    return np.array([found[event] for name in TRUTH_NAMES if event in (found := offs(name, rate))])


@pytest.mark.parametrize("rate", RATES)
def test_top_and_impact_stay_within_a_frame(rate: str) -> None:
    for event in ("top", "impact"):
        rows = gathered(rate, event)
        frames = np.abs(rows[:, 0]) / rows[:, 2]
        print(
            f"\n{rate:>8} fps, {event}: median {np.median(frames):.2f}, worst {frames.max():.2f} frames of {len(rows)}"
        )
        assert len(rows) == len(TRUTH_NAMES)
        assert np.median(frames) <= 0.5
        assert np.mean(frames <= (1.5 if event == "top" else 1.0)) >= 0.9


@pytest.mark.parametrize("rate", RATES)
def test_the_other_events_are_found_and_near(rate: str) -> None:
    said = []
    for event in ("takeaway", *FACE_ON):
        rows = gathered(rate, event)
        wanted = [name for name in TRUTH_NAMES if event == "takeaway" or name.startswith("fo_")]
        limit = np.maximum(1.5 * rows[:, 2], 0.035)
        share = float(np.mean(np.abs(rows[:, 0]) <= limit))
        said.append(f"{event} {share:.2f} of {len(rows)}/{len(wanted)}")
        assert len(rows) >= 0.9 * len(wanted), event
        assert share >= 0.8, (event, rows)
    print(f"\n{rate:>8} fps within 1.5 frames or 35 ms: " + ", ".join(said))


def test_standard_errors_hold_at_every_rate() -> None:
    rows = np.concatenate([gathered(rate, event) for rate in RATES for event in (*BOTH, *FACE_ON)])
    inside = float(np.mean(np.abs(rows[:, 0]) <= 1.96 * rows[:, 1]))
    for event in (*BOTH, *FACE_ON):
        some = np.concatenate([gathered(rate, event) for rate in RATES])
        held = np.abs(some[:, 0]) <= 1.96 * some[:, 1]
        off, stated = 1000 * np.std(some[:, 0]), 1000 * np.median(some[:, 1])
        print(f"{event}: {held.mean():.2f} of {len(some)} inside; off {off:.1f} ms, stated {stated:.1f} ms")
    print(f"\nevents inside their 95 % interval: {inside:.3f} of {len(rows)}")
    assert 0.88 <= inside <= 1.0


def test_a_faster_camera_knows_the_impact_better() -> None:
    errors = [float(np.median(gathered(rate, "impact")[:, 1])) for rate in ("24", "30", "60", "240")]
    print("\nstandard error of impact, ms:", [round(1000 * one, 1) for one in errors])
    assert errors == sorted(errors, reverse=True)
    assert errors[-1] < errors[0] / 2.5


def test_an_event_before_or_after_the_clip_is_missing_not_guessed() -> None:
    from analysis.gate import seen_events
    from analysis.scout import SwingWindow

    swing, truth = truth_tracks("fo_none")
    rng = np.random.default_rng(5)
    found = detect_events(sampled(swing, truth, times_at(60.0, float(swing.pose.t_s[-1]), rng), rng))
    window = SwingWindow(
        0, truth["takeaway"].t_s, truth["top"].t_s, truth["impact"].t_s, truth["finish"].t_s, 2.4, 1.0
    )
    late = seen_events(found, replace(window, starts_late=True))
    early = seen_events(found, replace(window, ends_early=True))
    assert not {"address", "takeaway"} & set(late) and "impact" in late
    assert "finish" not in early and "impact" in early
