"""Short hard sounds in a sound track: a struck ball, but also a dropped club."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.types import Floats

# A strike is a click of a few milliseconds with much of its energy above 2 kHz; wind and voices lie lower.
LOWEST_HZ = 2000.0
STEP_S = 0.002
BACKGROUND_S = 0.3
LEAST_OVER_BACKGROUND_DB = 18.0
# Quieter than this (full scale 1) counts as no sound at all: a muted clip proves nothing.
MUTED = 1e-4


@dataclass(frozen=True, slots=True)
class Click:
    """Start of a short hard sound, seconds from the clip's first frame, and how far it stands out, dB."""

    t_s: float
    over_db: float


def find_clicks(samples: NDArray[np.float32], rate_hz: int, start_s: float = 0.0) -> tuple[Click, ...]:
    """Every click that stands out from the sounds around it.

    Parameters
    ----------
    samples : ndarray of shape (N,), float32
        One channel, -1..1.
    rate_hz : int
        Sampling rate, at least 8000 Hz.
    start_s : float
        Time of the first sample, seconds.

    Returns
    -------
    tuple of Click
        In order of time, at least 50 ms apart.

    Raises
    ------
    ValueError
        If the rate is below 8000 Hz.
    """
    if rate_hz < 8000:
        raise ValueError(f"rate_hz must be at least 8000 Hz, got {rate_hz}")
    level = _level_db(samples, rate_hz)
    if level.size < 5:
        return ()
    over = level - _background_db(level)
    rises = np.flatnonzero((over >= LEAST_OVER_BACKGROUND_DB) & _is_peak(over))
    found: list[Click] = []
    for i in sorted(rises, key=lambda k: -over[k]):
        t_s = start_s + _start_of(over, int(i)) * STEP_S
        if all(abs(t_s - other.t_s) >= 0.05 for other in found):
            found.append(Click(float(t_s), float(over[i])))
    return tuple(sorted(found, key=lambda click: click.t_s))


def is_muted(samples: NDArray[np.float32]) -> bool:
    """Whether the track holds no sound at all."""
    return samples.size == 0 or float(np.abs(samples).max()) < MUTED


def _level_db(samples: NDArray[np.float32], rate_hz: int) -> Floats:
    """Energy above `LOWEST_HZ` in steps of `STEP_S`, dB."""
    spectrum = np.fft.rfft(np.asarray(samples, dtype=np.float64))
    hertz = np.fft.rfftfreq(len(samples), 1 / rate_hz)
    high = np.fft.irfft(spectrum * (hertz >= LOWEST_HZ), len(samples))
    step = round(STEP_S * rate_hz)
    whole = high[: len(high) // step * step].reshape(-1, step)
    return np.asarray(10 * np.log10((whole**2).mean(1) + 1e-10))


def _background_db(level: Floats) -> Floats:
    """Median level of the time around each step."""
    reach = round(BACKGROUND_S / STEP_S / 2)
    padded = np.pad(level, reach, mode="reflect" if level.size > reach else "edge")
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1)
    return np.asarray(np.median(windows, axis=1)[: level.size])


def _is_peak(over: Floats) -> NDArray[np.bool_]:
    left = np.concatenate([[-np.inf], over[:-1]])
    right = np.concatenate([over[1:], [-np.inf]])
    return np.asarray((over >= left) & (over > right))


def _start_of(over: Floats, peak: int) -> int:
    """First step of the rise to the peak."""
    i = peak
    while i > 0 and over[i - 1] > over[peak] - 12 and peak - i < 5:
        i -= 1
    return i
