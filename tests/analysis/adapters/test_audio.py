from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from analysis.adapters.audio import Audio, peaks, read_audio
from tests.analysis.adapters import footage

pytestmark = pytest.mark.unit


def test_a_tone_comes_back_at_its_pitch_and_strength(tmp_path: Path) -> None:
    audio = read_audio(footage.film(tmp_path / "a.mp4", tone_hz=1000.0))
    assert audio is not None
    assert audio.samples.dtype == np.float32
    middle = audio.samples[9600:38400]
    spectrum = np.abs(np.fft.rfft(middle * np.hanning(len(middle))))
    assert np.argmax(spectrum) * audio.rate_hz / len(middle) == pytest.approx(1000, abs=3)
    # 0.5 sine: root mean square 0.5 / sqrt 2.
    assert np.sqrt(np.mean(middle**2)) == pytest.approx(0.5 / np.sqrt(2), rel=0.1)


@pytest.mark.parametrize("from_s", [0.0, 0.25])
def test_sound_starts_where_the_file_says(tmp_path: Path, from_s: float) -> None:
    audio = read_audio(footage.film(tmp_path / "a.mp4", tone_hz=1000.0, tone_from_s=from_s, frames=90))
    assert audio is not None
    loud = int(np.argmax(np.abs(audio.samples) > 0.2))
    assert audio.start_s + loud / audio.rate_hz == pytest.approx(from_s, abs=0.025)


def test_resampling(tmp_path: Path) -> None:
    audio = read_audio(footage.sound_only(tmp_path / "a.mp4", seconds=2.0), rate_hz=16_000)
    assert audio is not None
    assert (audio.rate_hz, audio.start_s) == (16_000, 0.0)
    assert len(audio.samples) == pytest.approx(32_000, abs=1000)


def test_a_recorded_note_in_webm(tmp_path: Path) -> None:
    audio = read_audio(footage.sound_only(tmp_path / "a.webm", codec="libopus"))
    assert audio is not None
    assert np.abs(audio.samples[20_000:40_000]).max() == pytest.approx(0.5, abs=0.1)


def test_a_silent_clip_has_none(tmp_path: Path) -> None:
    assert read_audio(footage.film(tmp_path / "a.mp4")) is None


def test_rate_out_of_range(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match=r"rate_hz must be within 8000\.\.96000 Hz, got 100"):
        read_audio(tmp_path / "a.mp4", rate_hz=100)


def test_peaks_agree_with_a_plain_loop() -> None:
    samples = np.random.default_rng(3).uniform(-1, 1, 1003).astype(np.float32)
    found = peaks(Audio(samples, 48_000, 0.0), 7)
    edges = [round(1003 * k / 7) for k in range(8)]
    for k in range(7):
        part = [float(x) for x in samples[edges[k] : edges[k + 1]]]
        assert found[k].tolist() == [min(part), max(part)]
    with pytest.raises(ValueError, match="n must be at least 1"):
        peaks(Audio(samples, 48_000, 0.0), 0)
