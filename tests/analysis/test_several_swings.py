"""Practice swings beside a ball that stays, and a clip as it comes from the range: waggles, practice, two strikes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache
from itertools import pairwise

import numpy as np
import pytest

from analysis.adapters.lookout import scout
from analysis.adapters.video import probe
from analysis.gate import find_windows, window_problems
from analysis.pipeline import ClipReadout, analyse_clip
from analysis.strike import WHY
from tests.analysis.conftest import truth_data, truth_tracks
from tests.analysis.scenes import FPS, IMPACT, Picture, Scene, half, waggles, whole, write_scene

# Before frame 5 of the clip come the waggles of the scene, 59 frames longer than what they stand for.
WAGGLED = 79 - 20


def ball_stays(frames: Sequence[Picture]) -> list[Picture]:
    """The same swing over the ball: after impact the ball lies where it lay, as soon as the club is past."""
    x, y = (round(v * frames[0].shape[1] / 720) for v in truth_data("fo_none")["frames"][0]["ball2d"])
    r = round(12 * frames[0].shape[1] / 720)
    there = frames[IMPACT - 20][y - r : y + r, x - r : x + r]
    out = [rgb.copy() for rgb in frames]
    for rgb in out[IMPACT:]:
        rgb[y - r : y + r, x - r : x + r] = there
    return out


def over_the_ball() -> Scene:
    """One practice swing, no sound track."""
    return Scene(ball_stays(whole()))


def over_the_ball_then_strike() -> Scene:
    return Scene([*ball_stays(whole()), *whole()])


PRACTICE: dict[str, Callable[[], Scene]] = {
    scene.__name__: scene for scene in (over_the_ball, over_the_ball_then_strike)
}


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], ClipReadout]:
    folder = tmp_path_factory.mktemp("practice")
    return cache(lambda name: analyse_clip(write_scene(folder / f"{name}.mp4", PRACTICE[name]())))


def test_a_ball_that_stays_is_no_strike(told: Callable[[str], ClipReadout]) -> None:
    (swing,) = told("over_the_ball").swings
    _, truth = truth_tracks("fo_none")
    assert not np.isfinite(swing.tracks.ball.gone_s)
    assert swing.strike.kind == "unknown"
    # The club passes the place where it stood; the lean at impact isn't read from so rough a time.
    assert "ball" not in swing.events["impact"].rule
    off = swing.events["impact"].t_s - truth["impact"].t_s
    assert abs(off) <= 2 * swing.events["impact"].se_s + 1 / FPS


def test_beside_a_strike_it_is_a_practice_swing(told: Callable[[str], ClipReadout]) -> None:
    readout = told("over_the_ball_then_strike")
    assert [s.strike.kind for s in readout.swings] == ["practice", "strike"]
    assert readout.to_json()["swings"][0]["strike"]["why"] == WHY["others_hit"]
    assert readout.main_swing == 2
    begin_s = len(whole()) / FPS
    impact = readout.swings[1].events["impact"]
    assert impact.t_s - begin_s == pytest.approx(truth_tracks("fo_none")[1]["impact"].t_s, abs=1 / FPS)


def test_waggles_a_practice_swing_and_two_strikes_are_three_swings(
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    """At the gate: how many, each with its own impact, none of them a waggle, in order and apart."""
    first, second, third = list(waggles().frames), list(half("fo_early")), list(half("fo_reverse"))
    path = write_scene(tmp_path_factory.mktemp("several") / "clip.mp4", Scene([*first, *second, *third]))
    clip = probe(path)
    look = scout(path, clip, lambda share: None)
    problems, windows = find_windows(look, clip.nominal_fps, clip.capture_fps)
    assert [p.code for p in problems] == ["several_swings"]
    begins = [(WAGGLED, "fo_none"), (len(first), "fo_early"), (len(first) + len(second), "fo_reverse")]
    wanted = [begin / FPS + truth_tracks(name)[1]["impact"].t_s for begin, name in begins]
    assert [w.impact_s for w in windows] == pytest.approx(wanted, abs=0.1)
    assert all(a.end_s <= b.takeaway_s for a, b in pairwise(windows))
    assert all(a.finish_s <= b.start_s for a, b in pairwise(windows))
    takeaways = [begin / FPS + truth_tracks(name)[1]["takeaway"].t_s for begin, name in begins]
    assert [w.takeaway_s for w in windows] == pytest.approx(takeaways, abs=0.25)
    assert all(window_problems(look, w) == [] for w in windows)
    assert {w.stretch for w in windows} == {1.0}
