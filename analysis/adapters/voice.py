"""A recorded voice note: from what a browser records to sound that plays everywhere."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
from numpy.typing import NDArray

from analysis.adapters import media
from analysis.adapters.audio import read_audio
from analysis.adapters.media import MediaError

RATE_HZ = 48_000
BIT_RATE = 64_000
MIN_NOTE_S = 0.3
MAX_NOTE_S = 600.0
_FRAME = 1024

UNREADABLE = "This recording can't be read. Please record it again."
TOO_SHORT = "This recording is too short to hear anything. Please record it again."
TOO_LONG = f"This recording is longer than {MAX_NOTE_S / 60:.0f} minutes. Please record a shorter one."

Report = Callable[[str, float], None]


def voice_to_dir(path: str, out_dir: str, report: Report) -> dict[str, Any]:
    """Turn a recording into ``voice.m4a``: AAC, one channel, 48 kHz, index first.

    Parameters
    ----------
    path : str
        WebM, Matroska, MP4 or QuickTime, by content; any codec of sound that the decoder knows.
    out_dir : str
        An existing folder.
    report : callable
        Called with stage and percentage.

    Returns
    -------
    dict
        ``duration_ms`` (int, ms) and ``peak`` (float, largest sample, 0..1).

    Raises
    ------
    MediaError
        ``unreadable``, ``too_short`` (< 0.3 s) or ``sound_too_long`` (> 600 s).
    """
    report("listening", 0)
    samples = read_voice(path)
    report("encoding", 50)
    encode_voice(samples, Path(out_dir) / "voice.m4a")
    return {
        "duration_ms": round(1000 * len(samples) / RATE_HZ),
        "peak": round(float(np.abs(samples).max()), 4),
    }


def read_voice(path: str) -> NDArray[np.float32]:
    """What a browser or a phone recorded, as one channel at `RATE_HZ`.

    Returns
    -------
    ndarray of shape (N,), float32
        -1..1.

    Raises
    ------
    MediaError
        ``unreadable``, ``too_short`` (< 0.3 s) or ``sound_too_long`` (> 600 s).
    """
    try:
        with media.open_container(path) as container:
            if container.streams.video:
                raise MediaError("unreadable", UNREADABLE)
        audio = read_audio(path, RATE_HZ)
    except MediaError as problem:
        if problem.code == "sound_too_long":
            raise MediaError(problem.code, TOO_LONG) from problem
        raise MediaError("unreadable", UNREADABLE) from problem
    if audio is None:
        raise MediaError("unreadable", UNREADABLE)
    if len(audio.samples) < MIN_NOTE_S * RATE_HZ:
        raise MediaError("too_short", TOO_SHORT)
    if len(audio.samples) > MAX_NOTE_S * RATE_HZ:
        raise MediaError("sound_too_long", TOO_LONG)
    return audio.samples


def encode_voice(samples: NDArray[np.float32], target: Path) -> None:
    """Write one channel at `RATE_HZ` as AAC in MP4, index first.

    Parameters
    ----------
    samples : ndarray of shape (N,), float32
        -1..1.
    target : Path
    """
    with av.open(str(target), "w", format="mp4", options={"movflags": "+faststart"}) as container:
        stream = container.add_stream("aac", rate=RATE_HZ, layout="mono", bit_rate=BIT_RATE)
        for start in range(0, len(samples), _FRAME):
            container.mux(stream.encode(_frame(samples, start)))
        container.mux(stream.encode(None))


def _frame(samples: NDArray[np.float32], start: int) -> av.AudioFrame:
    piece = np.ascontiguousarray(samples[start : start + _FRAME][None, :])
    frame = av.AudioFrame.from_ndarray(piece, format="fltp", layout="mono")
    frame.sample_rate = RATE_HZ
    frame.pts, frame.time_base = start, Fraction(1, RATE_HZ)
    return frame
