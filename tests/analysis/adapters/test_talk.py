"""The sound of a talk: the mark at zero is found behind Opus and noise, and parts are cut to the sample."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
from scipy.signal import correlate

from analysis.adapters.audio import read_audio
from analysis.adapters.talk import SECOND_S, SWEEP_HZ, USUAL_ZERO_S, find_zero, sweep, talk_to_dir
from analysis.adapters.voice import RATE_HZ

QUIET = np.float32(0.01)


def silence(seconds: float) -> np.ndarray:
    return np.zeros(round(seconds * RATE_HZ), dtype=np.float32)


def click_at(samples: np.ndarray, at_s: float) -> None:
    start = round(at_s * RATE_HZ)
    samples[start : start + 96] += 0.8 * np.hanning(96).astype(np.float32)


def add_sweeps(samples: np.ndarray, zero_s: float, *, first: bool = True, second: bool = True) -> None:
    for falls, later, is_there in ((False, 0.0, first), (True, SECOND_S, second)):
        mark, start = sweep(falls=falls), round((zero_s + later) * RATE_HZ)
        samples[start : start + mark.size] += 0.25 * is_there * mark


def recording(path: Path, samples: np.ndarray) -> str:
    """What a browser makes: Opus in WebM."""
    with av.open(str(path), "w", format="webm") as container:
        stream = container.add_stream("libopus", rate=RATE_HZ, layout="mono", bit_rate=48_000)
        for start in range(0, samples.size, 960):
            piece = np.ascontiguousarray(samples[start : start + 960][None, :])
            frame = av.AudioFrame.from_ndarray(piece, format="flt", layout="mono")
            frame.sample_rate, frame.pts, frame.time_base = RATE_HZ, start, Fraction(1, RATE_HZ)
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return str(path)


def take(path: Path, zero_s: float, clicks_s: tuple[float, ...], length_s: float, seed: int = 1) -> str:
    samples = silence(zero_s + length_s)
    samples += QUIET * np.random.default_rng(seed).standard_normal(samples.size).astype(np.float32)
    add_sweeps(samples, zero_s)
    for at_s in clicks_s:
        click_at(samples, zero_s + at_s)
    return recording(path, samples)


def clicks_in(path: Path) -> list[float]:
    audio = read_audio(path, RATE_HZ)
    assert audio is not None
    loud = np.flatnonzero(np.abs(audio.samples) > 0.3)
    first = [loud[0], *loud[np.flatnonzero(np.diff(loud) > 0.1 * RATE_HZ) + 1]] if loud.size else []
    # The click's peak lies 1 ms behind its beginning.
    return [float(at) / RATE_HZ for at in first]


def test_the_sweep_runs_through_its_band() -> None:
    # Half the energy of a linear sweep lies below the middle of its band (property of the linear chirp).
    spectrum = np.abs(np.fft.rfft(sweep(), 1 << 15)) ** 2
    hertz = np.fft.rfftfreq(1 << 15, 1 / RATE_HZ)
    half = hertz[np.searchsorted(np.cumsum(spectrum), spectrum.sum() / 2)]
    assert half == pytest.approx(sum(SWEEP_HZ) / 2, abs=60)
    assert spectrum[(hertz > 1500) & (hertz < 6500)].sum() > 0.99 * spectrum.sum()


@pytest.mark.parametrize("zero_s", [0.11, 0.4, 1.73])
def test_the_zero_is_found_where_a_reference_library_finds_it(tmp_path: Path, zero_s: float) -> None:
    audio = read_audio(take(tmp_path / "take.webm", zero_s, (1.0,), 3.0))
    assert audio is not None
    found = find_zero(audio.samples)
    assert found is not None
    # scipy.signal.correlate, plain: the loudest match over the whole recording.
    peak = int(np.argmax(correlate(audio.samples, sweep(), "valid")))
    assert found == pytest.approx(peak / RATE_HZ, abs=0.0005)
    assert found == pytest.approx(zero_s, abs=0.008)


@pytest.mark.parametrize(("first", "second"), [(True, False), (False, True)])
def test_one_of_the_two_sweeps_is_enough(first: bool, second: bool) -> None:
    samples = silence(2) + QUIET * np.random.default_rng(5).standard_normal(2 * RATE_HZ).astype(np.float32)
    add_sweeps(samples, 0.4, first=first, second=second)
    assert find_zero(samples) == pytest.approx(0.4, abs=0.002)


def test_both_half_swallowed_still_tell() -> None:
    samples = silence(2) + QUIET * np.random.default_rng(6).standard_normal(2 * RATE_HZ).astype(np.float32)
    add_sweeps(samples, 0.4)
    for start_s in (0.4, 0.4 + SECOND_S):
        samples[round((start_s + 0.009) * RATE_HZ) : round((start_s + 0.02) * RATE_HZ)] = 0
    assert find_zero(samples) == pytest.approx(0.4, abs=0.002)


def test_a_loud_low_blow_on_a_sweep_does_not_hide_it() -> None:
    samples = silence(2)
    add_sweeps(samples, 0.4)
    t = np.arange(480) / RATE_HZ
    blow = (0.9 * np.sin(2 * np.pi * 700 * t) * np.hanning(480)).astype(np.float32)
    start = round(0.4 * RATE_HZ) + 200
    samples[start : start + 480] += blow
    assert find_zero(samples) == pytest.approx(0.4, abs=0.002)


def test_clicks_and_hiss_are_no_zero() -> None:
    samples = silence(2) + QUIET * np.random.default_rng(3).standard_normal(2 * RATE_HZ).astype(np.float32)
    click_at(samples, 0.3)
    click_at(samples, 0.9)
    assert find_zero(samples) is None
    assert find_zero(silence(0.001)) is None
    assert find_zero(silence(1)) is None


def test_parts_are_joined_where_they_belong(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A take, its end taken back, and a second telling: every click lies where its own clock says."""
    first = take(tmp_path / "1.webm", 0.25, (1.0, 2.0, 4.5), 5.0)
    second = take(tmp_path / "2.webm", 0.9, (0.5, 1.5), 2.0, seed=2)
    cuts = [[1, 0, 4000], [2, 250, 2000]]
    facts = talk_to_dir({"1": first, "2": second}, cuts, str(tmp_path), lambda stage, percent: None)
    wanted = [1.0, 2.0, 4.0 + 0.25, 4.0 + 1.25]
    found = clicks_in(tmp_path / "talk.m4a")
    assert len(found) == len(wanted)
    away_ms = [1000 * (a - b) for a, b in zip(found, wanted, strict=True)]
    with capsys.disabled():
        print(f"\nclicks of a joined talk, ms off: {[round(x, 1) for x in away_ms]}")
    assert max(map(abs, away_ms)) < 15
    assert facts["duration_ms"] == 5750
    assert facts["zeros"]["1"] == pytest.approx(0.25, abs=0.008)


def test_a_take_without_its_marks_counts_as_the_others_do(tmp_path: Path) -> None:
    samples = silence(2)
    click_at(samples, 1.0)
    bare = recording(tmp_path / "1.webm", samples)
    facts = talk_to_dir({"1": bare}, [[1, 300, 1300]], str(tmp_path), lambda stage, percent: None)
    assert facts["zeros"] == {"1": None}
    assert clicks_in(tmp_path / "talk.m4a") == [pytest.approx(1.0 - USUAL_ZERO_S - 0.3, abs=0.015)]
    marked = take(tmp_path / "2.webm", 0.5, (), 1.0)
    cuts = [[1, 300, 1300], [2, 300, 900]]
    talk_to_dir({"1": bare, "2": marked}, cuts, str(tmp_path), lambda stage, percent: None)
    assert clicks_in(tmp_path / "talk.m4a") == [pytest.approx(1.0 - 0.5 - 0.3, abs=0.015)]


def test_a_part_of_a_take_that_is_not_there_is_refused(tmp_path: Path) -> None:
    path = take(tmp_path / "1.webm", 0.2, (), 1.0)
    with pytest.raises(ValueError, match="cuts must name takes among"):
        talk_to_dir({"1": path}, [[2, 0, 500]], str(tmp_path), lambda stage, percent: None)
