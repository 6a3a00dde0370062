"""The sound of a clip or of a recorded note."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import av
import numpy as np
from av.container import InputContainer
from numpy.typing import NDArray

from analysis.adapters import media
from analysis.adapters.media import MediaError

MAX_SOUND_S = 900.0


@dataclass(frozen=True)
class Audio:
    """Sound of a clip.

    Attributes
    ----------
    samples : ndarray of shape (N,), float32
        One channel in -1..1; silence where the file has a gap.
    rate_hz : int
        Sampling rate.
    start_s : float
        Time of the first sample, in seconds from the clip's first frame; 0 when there is no picture.
    """

    samples: NDArray[np.float32]
    rate_hz: int
    start_s: float


def read_audio(path: str | Path, rate_hz: int = 48_000) -> Audio | None:
    """Decode the first sound track to one channel.

    Parameters
    ----------
    path : str or Path
    rate_hz : int
        Sampling rate wanted, 8000 to 96000 Hz.

    Returns
    -------
    Audio or None
        None when the file has no sound track or an empty one.

    Raises
    ------
    ValueError
        If `rate_hz` is out of range.
    MediaError
        If the file can't be opened, or holds more than `MAX_SOUND_S` of sound (``sound_too_long``).
    """
    if not 8000 <= rate_hz <= 96_000:
        raise ValueError(f"rate_hz must be within 8000..96000 Hz, got {rate_hz}")
    with media.open_container(path) as container:
        if not container.streams.audio:
            return None
        origin_s = _first_picture_s(path)
        pieces = _pieces(container, rate_hz)
    if not pieces:
        return None
    begin_s = pieces[0][0]
    samples = _joined(pieces, rate_hz)
    return Audio(samples, rate_hz, begin_s - (begin_s if origin_s is None else origin_s))


def _first_picture_s(path: str | Path) -> float | None:
    with media.open_container(path) as container:
        if not container.streams.video:
            return None
        stream = container.streams.video[0]
        tick_s = float(stream.time_base or 1)
        shown = [p.pts for p in container.demux(stream) if p.pts is not None and not p.is_discard]
        return min(shown) * tick_s if shown else None


def _pieces(container: InputContainer, rate_hz: int) -> list[tuple[float, NDArray[np.float32]]]:
    stream = container.streams.audio[0]
    resampler = av.AudioResampler(format="flt", layout="mono", rate=rate_hz)
    pieces: list[tuple[float, NDArray[np.float32]]] = []
    for packet in container.demux(stream):
        try:
            frames = [part for frame in packet.decode() for part in resampler.resample(frame)]
        except av.error.FFmpegError:
            continue
        for frame in frames:
            pieces.append((float(frame.time or 0.0), np.asarray(frame.to_ndarray()[0], dtype=np.float32)))
            if pieces[-1][0] - pieces[0][0] > MAX_SOUND_S:
                raise MediaError(
                    "sound_too_long",
                    f"The sound is longer than {MAX_SOUND_S / 60:.0f} minutes. Please send a shorter one.",
                )
    return pieces


def _joined(pieces: list[tuple[float, NDArray[np.float32]]], rate_hz: int) -> NDArray[np.float32]:
    """Lay the pieces down at their times; a gap stays silent, an overlap of less than 50 ms is appended."""
    begin_s = pieces[0][0]
    out: list[NDArray[np.float32]] = []
    length = 0
    for at_s, samples in pieces:
        gap = round((at_s - begin_s) * rate_hz) - length
        if gap > 0.05 * rate_hz:
            out.append(np.zeros(gap, dtype=np.float32))
            length += gap
        out.append(samples)
        length += len(samples)
    return np.concatenate(out)


def peaks(audio: Audio, n: int) -> NDArray[np.float32]:
    """Lowest and highest sample in each of `n` equal parts, for drawing a waveform.

    Parameters
    ----------
    audio : Audio
    n : int
        Number of parts, >= 1.

    Returns
    -------
    ndarray of shape (n, 2), float32
        Lowest and highest value, -1..1; 0 where a part holds no sample.

    Raises
    ------
    ValueError
        If `n` < 1.
    """
    if n < 1:
        raise ValueError(f"n must be at least 1, got {n}")
    edges = np.linspace(0, len(audio.samples), n + 1).round().astype(int)
    out = np.zeros((n, 2), dtype=np.float32)
    for k, (low, high) in enumerate(pairwise(edges)):
        if high > low:
            part = audio.samples[low:high]
            out[k] = part.min(), part.max()
    return np.clip(out, -1.0, 1.0)
