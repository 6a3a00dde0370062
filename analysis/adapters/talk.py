"""The sound of a talk-through: takes trimmed to the parts that count, in one file that plays everywhere."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.adapters.voice import RATE_HZ, encode_voice, read_voice

# The page plays this into each take's recording (never into the room) at the moment it calls zero.
CHIRP_S = 0.020
CHIRP_HZ = (2_000.0, 6_000.0)
# The chirp is looked for in the first moments of a take only.
SEARCH_S = 3.0
# Correlation of the found place with the chirp, 0..1; speech and clicks stay under 0.5, Opus leaves 0.9.
CLEAR = 0.6
FADE_S = 0.005

Report = Callable[[str, float], None]
Samples = NDArray[np.float32]


def chirp(rate_hz: int = RATE_HZ) -> Samples:
    """The mark at the zero of a take: a linear sweep under a Hann window.

    Parameters
    ----------
    rate_hz : int
        Sampling rate.

    Returns
    -------
    ndarray of shape (N,), float32
        `CHIRP_S` seconds, -1..1.
    """
    t = np.arange(round(CHIRP_S * rate_hz)) / rate_hz
    low, high = CHIRP_HZ
    sweep = np.sin(2 * np.pi * (low * t + (high - low) * t**2 / (2 * CHIRP_S)))
    return np.asarray(sweep * np.hanning(t.size), dtype=np.float32)


def find_chirp(samples: Samples, rate_hz: int = RATE_HZ) -> tuple[float, float] | None:
    """Where the chirp begins.

    Parameters
    ----------
    samples : ndarray of shape (N,), float32
    rate_hz : int

    Returns
    -------
    (float, float) or None
        Seconds from the first sample, and the normalised correlation there, 0..1; None when it is not clear.
    """
    mark = chirp(rate_hz).astype(np.float64)
    part = samples[: round(SEARCH_S * rate_hz)].astype(np.float64)
    if part.size < mark.size:
        return None
    size = 1 << int(np.ceil(np.log2(part.size + mark.size)))
    spectrum = np.fft.rfft(part, size) * np.conj(np.fft.rfft(mark, size))
    match = np.fft.irfft(spectrum, size)[: part.size - mark.size + 1]
    energy = np.convolve(part**2, np.ones(mark.size), "valid")
    likeness = match / np.sqrt(np.maximum(energy, 1e-9) * (mark @ mark))
    # A faint echo of the sweep can be as like it as the sweep itself: of what is clear, the loudest counts.
    clear = np.flatnonzero(likeness > CLEAR)
    if clear.size == 0:
        return None
    best = int(clear[np.argmax(match[clear])])
    return best / rate_hz, float(likeness[best])


def talk_to_dir(
    takes: Mapping[str, str], cuts: Sequence[Sequence[int]], out_dir: str, report: Report
) -> dict[str, Any]:
    """Join the parts of the takes into ``talk.m4a``: AAC, one channel, 48 kHz, index first.

    Parameters
    ----------
    takes : mapping of str to str
        Number of a take to its file.
    cuts : sequence of (take, from_ms, to_ms)
        Times count from the take's chirp, or from its first sample where no chirp is found.
    out_dir : str
        An existing folder.
    report : callable
        Called with stage and percentage.

    Returns
    -------
    dict
        ``duration_ms`` (int) and ``zeros`` (take to seconds of the chirp, None where none was found).

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
        found = find_chirp(samples)
        zeros[number] = None if found is None else round(found[0], 5)
        sounds[int(number)] = samples if found is None else _without_chirp(samples, found[0])
    if missing := {cut[0] for cut in cuts} - set(sounds):
        raise ValueError(f"cuts must name takes among {sorted(sounds)}, got {sorted(missing)}")
    report("encoding", 70)
    whole = np.concatenate([_part(sounds[take], start, end) for take, start, end in cuts])
    encode_voice(whole, Path(out_dir) / "talk.m4a")
    return {"duration_ms": round(1000 * whole.size / RATE_HZ), "zeros": zeros}


def _without_chirp(samples: Samples, at_s: float) -> Samples:
    own = samples[round(at_s * RATE_HZ) :].copy()
    own[: round((CHIRP_S + FADE_S) * RATE_HZ)] = 0
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
