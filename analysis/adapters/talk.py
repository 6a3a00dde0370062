"""The sound of a talk-through: takes trimmed to the parts that count, in one file that plays everywhere."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.adapters.voice import RATE_HZ, encode_voice, read_voice

# The page plays two sweeps into each take's recording (never into the room): one upwards at the moment it calls zero,
# one downwards a little later. A busy browser may swallow one of them.
SWEEP_S = 0.020
SWEEP_HZ = (2_000.0, 6_000.0)
SECOND_S = 0.200
# They are looked for in the first moments of a take only.
SEARCH_S = 3.0
# Likeness to the sweep, 0..1: Opus leaves 0.8 and more, speech, clicks and hiss stay under 0.4.
CLEAR = 0.6
# Both of them half swallowed still tell, when they lie as far apart as they must.
FAINT, APART_S = 0.3, 0.002
FADE_S = 0.005
# Where both sweeps are swallowed: as in the talk's other takes, else as browsers were seen to begin.
USUAL_ZERO_S = 0.32

Report = Callable[[str, float], None]
Samples = NDArray[np.float32]


def sweep(rate_hz: int = RATE_HZ, *, falls: bool = False) -> Samples:
    """A mark at the beginning of a take: a linear sweep under a Hann window.

    Parameters
    ----------
    rate_hz : int
        Sampling rate.
    falls : bool
        The second mark runs downwards.

    Returns
    -------
    ndarray of shape (N,), float32
        `SWEEP_S` seconds, -1..1.
    """
    t = np.arange(round(SWEEP_S * rate_hz)) / rate_hz
    low, high = reversed(SWEEP_HZ) if falls else SWEEP_HZ
    wave = np.sin(2 * np.pi * (low * t + (high - low) * t**2 / (2 * SWEEP_S)))
    return np.asarray(wave * np.hanning(t.size), dtype=np.float32)


def find_zero(samples: Samples, rate_hz: int = RATE_HZ) -> float | None:
    """Where the take's zero is: the beginning of the first sweep.

    Parameters
    ----------
    samples : ndarray of shape (N,), float32
    rate_hz : int

    Returns
    -------
    float or None
        Seconds from the first sample; None when neither sweep is clear.
    """
    part = _in_band(samples[: round(SEARCH_S * rate_hz)], rate_hz)
    found = [_best(part, sweep(rate_hz, falls=falls)) for falls in (False, True)]
    starts = [at / rate_hz - later for (at, _), later in zip(found, (0.0, SECOND_S), strict=True)]
    likeness = [like for _, like in found]
    best = int(np.argmax(likeness))
    if likeness[best] >= CLEAR:
        return starts[best]
    agree = abs(starts[0] - starts[1]) <= APART_S and min(likeness) >= FAINT
    return starts[best] if agree else None


def _in_band(samples: Samples, rate_hz: int) -> NDArray[np.float64]:
    """A voice or a blow that falls on a sweep has most of its strength below it."""
    part = samples.astype(np.float64)
    spectrum = np.fft.rfft(part)
    hertz = np.fft.rfftfreq(part.size, 1 / rate_hz) if part.size else np.zeros(0)
    spectrum[(hertz < 0.9 * SWEEP_HZ[0]) | (hertz > 1.1 * SWEEP_HZ[1])] = 0
    return np.fft.irfft(spectrum, part.size)


def _best(part: NDArray[np.float64], wave: Samples) -> tuple[int, float]:
    """Sample at which `part` is most like `wave`, and the likeness, 0..1; of equals the loudest."""
    mark = wave.astype(np.float64)
    if part.size < mark.size:
        return 0, 0.0
    size = 1 << int(np.ceil(np.log2(part.size + mark.size)))
    spectrum = np.fft.rfft(part, size) * np.conj(np.fft.rfft(mark, size))
    match = np.fft.irfft(spectrum, size)[: part.size - mark.size + 1]
    power = np.concatenate([[0.0], np.cumsum(part**2)])
    energy = np.maximum(power[mark.size :] - power[: -mark.size], 0)
    likeness = match / np.sqrt((energy + 1e-6) * (mark @ mark))
    # A faint echo can be as like the sweep as the sweep itself.
    near = np.flatnonzero(likeness >= 0.8 * likeness.max())
    at = int(near[np.argmax(match[near])])
    return at, float(likeness[at])


def talk_to_dir(
    takes: Mapping[str, str], cuts: Sequence[Sequence[int]], out_dir: str, report: Report
) -> dict[str, Any]:
    """Join the parts of the takes into ``talk.m4a``: AAC, one channel, 48 kHz, index first.

    Parameters
    ----------
    takes : mapping of str to str
        Number of a take to its file.
    cuts : sequence of (take, from_ms, to_ms)
        Times count from the take's zero (`find_zero`), or from where it usually is when none is found.
    out_dir : str
        An existing folder.
    report : callable
        Called with stage and percentage.

    Returns
    -------
    dict
        ``duration_ms`` (int) and ``zeros`` (take to seconds of its zero, None where none was found).

    Raises
    ------
    ValueError
        If a cut names a take that is not there.
    MediaError
        ``unreadable``, ``too_short`` or ``sound_too_long``, as for a voice note.
    """
    sounds: dict[int, Samples] = {}
    zeros: dict[str, float | None] = {}
    for count, (number, path) in enumerate(sorted(takes.items(), key=lambda item: int(item[0]))):
        report("listening", 70 * count / len(takes))
        samples = read_voice(path)
        zero = find_zero(samples)
        zeros[number] = None if zero is None else round(zero, 5)
        sounds[int(number)] = samples
    found = [zero for zero in zeros.values() if zero is not None]
    usual = float(np.median(found)) if found else USUAL_ZERO_S
    for number, zero in zeros.items():
        sounds[int(number)] = _from_zero(sounds[int(number)], usual if zero is None else zero)
    if missing := {cut[0] for cut in cuts} - set(sounds):
        raise ValueError(f"cuts must name takes among {sorted(sounds)}, got {sorted(missing)}")
    report("encoding", 70)
    whole = np.concatenate([_part(sounds[take], start, end) for take, start, end in cuts])
    encode_voice(whole, Path(out_dir) / "talk.m4a")
    return {"duration_ms": round(1000 * whole.size / RATE_HZ), "zeros": zeros}


def _from_zero(samples: Samples, zero_s: float) -> Samples:
    """The take from its zero on, silent until both sweeps are over."""
    start = round(zero_s * RATE_HZ)
    own = np.concatenate([np.zeros(max(0, -start), dtype=np.float32), samples[max(0, start) :]])
    own[: round((SECOND_S + SWEEP_S + FADE_S) * RATE_HZ)] = 0
    return own


def _part(samples: Samples, start_ms: int, end_ms: int) -> Samples:
    """A part of exactly the wanted length, silent beyond the take's end, faded so that the joint doesn't click."""
    start, end = (round(ms * RATE_HZ / 1000) for ms in (start_ms, end_ms))
    out = np.zeros(end - start, dtype=np.float32)
    have = samples[start:end]
    out[: have.size] = have
    ramp = np.linspace(0, 1, min(round(FADE_S * RATE_HZ), out.size), dtype=np.float32)
    out[: ramp.size] *= ramp
    out[out.size - ramp.size :] *= ramp[::-1]
    return out
