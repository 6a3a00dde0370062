"""Strikes and practice swings told apart: by the ball, by the sound, by the hands."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from analysis.pipeline import ClipReadout, analyse_clip
from analysis.signal.clicks import find_clicks, is_muted
from analysis.strike import WHY, Signals, heard_at, judge_strikes, main_swing, strike_near
from tests.analysis.scenes import FPS, IMPACT, SOUND_HZ, Scene, range_sound, whole, without_ball, write_scene

NAN = math.nan


def kinds(*swings: Signals) -> list[tuple[str, str]]:
    return [(s.kind, s.reason) for s in judge_strikes(swings)]


@pytest.mark.parametrize(
    ("ball", "heard", "kind", "reason"),
    [
        (True, None, "strike", "ball_left"),
        (True, False, "strike", "ball_left"),
        (False, True, "strike", "heard"),
        (False, False, "practice", "silent"),
        (False, None, "unknown", "not_told"),
    ],
)
def test_one_swing_alone(ball: bool, heard: bool | None, kind: str, reason: str) -> None:
    assert kinds(Signals(ball, heard, 9.0)) == [(kind, reason)]


def test_a_swing_beside_one_that_sent_a_ball_off() -> None:
    assert kinds(Signals(False, None, 9.0), Signals(True, None, 10.0)) == [
        ("practice", "others_hit"),
        ("strike", "ball_left"),
    ]


def test_a_much_slower_swing_without_ball_or_sound_is_a_practice_swing() -> None:
    assert kinds(Signals(False, None, 5.0), Signals(False, None, 10.0)) == [
        ("practice", "slower"),
        ("unknown", "not_told"),
    ]
    assert kinds(Signals(False, None, NAN), Signals(False, None, 10.0))[0] == ("unknown", "not_told")


@pytest.mark.parametrize(
    ("clicks", "stretch", "heard"),
    [
        (None, 1.0, None),
        ([], 1.0, False),
        ([1.55], 1.0, True),
        ([1.3, 2.0], 1.0, False),
        ([1.55], 4.0, None),
    ],
)
def test_a_strike_is_heard_at_impact_only(
    clicks: list[float] | None, stretch: float, heard: bool | None
) -> None:
    assert heard_at(clicks, 1.52, stretch) is heard


@pytest.mark.parametrize(
    ("marked", "number"),
    [
        (["practice", "strike", "strike"], 2),
        (["practice", "unknown"], 2),
        (["practice", "practice"], 1),
        ([], None),
    ],
)
def test_the_strike_is_shown_first(marked: list[str], number: int | None) -> None:
    assert main_swing(marked) == number


def test_reasons_are_words() -> None:
    assert all(words and not words.endswith(".") for words in WHY.values())


def test_clicks_are_found_in_wind_at_their_times() -> None:
    found = find_clicks(range_sound(3.0, [0.8, 1.52]), SOUND_HZ, start_s=0.1)
    assert [click.t_s for click in found] == pytest.approx([0.9, 1.62], abs=0.004)
    assert find_clicks(range_sound(3.0, []), SOUND_HZ) == ()


def test_a_low_tone_is_no_click_and_silence_is_muted() -> None:
    t = np.arange(2 * SOUND_HZ) / SOUND_HZ
    voice = (0.3 * np.sin(2 * np.pi * 220 * t) * (np.sin(2 * np.pi * 3 * t) > 0.5)).astype(np.float32)
    smooth = np.convolve(voice, np.hanning(400) / 200, mode="same").astype(np.float32)
    assert find_clicks(smooth + range_sound(2.0, [])[: t.size], SOUND_HZ) == ()
    assert is_muted(np.zeros(100, np.float32))
    assert not is_muted(range_sound(0.5, []))
    with pytest.raises(ValueError, match="rate_hz must be at least 8000 Hz, got 4000"):
        find_clicks(voice, 4000)


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], ClipReadout]:
    """Readout of a scene with a practice swing; each is measured once."""
    folder = tmp_path_factory.mktemp("strikes")

    def measure(name: str) -> ClipReadout:
        return analyse_clip(write_scene(folder / f"{name}.mp4", STRIKES[name]()))

    return cache(measure)


def practice_then_strike() -> Scene:
    """Beside no ball, then with one; only the second is heard."""
    frames = [*without_ball(whole()), *whole()]
    return Scene(frames, clicks_s=[(len(whole()) + IMPACT) / FPS + 0.01])


def practice_alone() -> Scene:
    return Scene(without_ball(whole()), clicks_s=[0.4])


def silent_practice() -> Scene:
    return Scene(without_ball(whole()))


def unseen_strike() -> Scene:
    """No ball to be seen, but a strike to be heard by a phone four metres away."""
    return Scene(without_ball(whole()), clicks_s=[IMPACT / FPS + 4 * 2.9e-3])


STRIKES: dict[str, Callable[[], Scene]] = {
    "practice_then_strike": practice_then_strike,
    "practice_alone": practice_alone,
    "silent_practice": silent_practice,
    "unseen_strike": unseen_strike,
}


def test_a_practice_swing_before_the_strike(told: Callable[[str], ClipReadout]) -> None:
    readout = told("practice_then_strike").to_json()
    assert [s["strike"]["kind"] for s in readout["swings"]] == ["practice", "strike"]
    assert readout["swings"][0]["strike"]["why"] == WHY["silent"]
    assert readout["main_swing"] == 2
    assert [p["code"] for p in readout["problems"]] == ["several_swings"]


def test_a_practice_swing_alone_is_said_to_the_student(told: Callable[[str], ClipReadout]) -> None:
    readout = told("practice_alone")
    assert [s.strike.kind for s in readout.swings] == ["practice"]
    assert "only_practice" in [p.code for p in readout.problems]
    assert readout.usable


def test_a_strike_that_is_heard_chooses_the_frame_of_impact(told: Callable[[str], ClipReadout]) -> None:
    """Sound travels 2.9 ms a metre (speed of sound in air at 20 degrees, 343 m/s, from memory)."""
    swing = told("unseen_strike").swings[0]
    impact = swing.events["impact"]
    assert (swing.strike.kind, swing.strike.reason) == ("strike", "heard")
    assert "strike" in impact.rule
    assert impact.t_s == pytest.approx(IMPACT / FPS, abs=1 / FPS)


def test_the_nearest_click_is_the_strike() -> None:
    assert strike_near([1.50, 1.60], 1.52) == 1.50
    assert strike_near([1.0, 2.0], 1.52) is None
    assert strike_near([1.52], 1.52, stretch=4.0) is None
    assert strike_near(None, 1.52) is None


def test_without_sound_and_ball_it_can_not_be_told(told: Callable[[str], ClipReadout]) -> None:
    readout = told("silent_practice")
    assert [s.strike.kind for s in readout.swings] == ["unknown"]
    assert readout.problems == ()


def test_a_vendored_clip_is_a_strike(measured: Callable[[str], ClipReadout]) -> None:
    readout = measured("fo_none")
    assert [s.strike.reason for s in readout.swings] == ["ball_left"]
    assert readout.main_swing == 1


def test_the_kind_survives_measuring_again(tmp_path: Path) -> None:
    from analysis.adapters.store import save_tracks
    from analysis.pipeline import remeasure_from_dir
    from tests.analysis.changes import stored_swing

    swing = stored_swing("fo_none")
    extra = {"start_s": 0.0, "end_s": 2.0, "fps": 60.0, "problems": [], "strike": ["practice", "silent"]}
    save_tracks(tmp_path, 1, swing, {}, extra)
    assert remeasure_from_dir(tmp_path, 1, {})["strike"] == {"kind": "practice", "why": WHY["silent"]}
    save_tracks(tmp_path, 2, swing, {}, {k: v for k, v in extra.items() if k != "strike"})
    assert remeasure_from_dir(tmp_path, 2, {})["strike"]["kind"] == "unknown"
