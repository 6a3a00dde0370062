"""Strikes heard in a clip's sound track."""

from __future__ import annotations

from pathlib import Path

from analysis.adapters.audio import read_audio
from analysis.adapters.media import MediaError
from analysis.signal.clicks import find_clicks, is_muted

RATE_HZ = 16_000


def clicks_in(path: Path, has_audio: bool) -> list[float] | None:
    """Times of short hard sounds in seconds from the first frame; None without a sound to listen to.

    Parameters
    ----------
    path : Path
    has_audio : bool
        Whether the file has a sound track.
    """
    if not has_audio:
        return None
    try:
        audio = read_audio(path, RATE_HZ)
    except MediaError:
        # The picture is what counts; a broken sound track is no sound track.
        return None
    if audio is None or is_muted(audio.samples):
        return None
    return [click.t_s for click in find_clicks(audio.samples, audio.rate_hz, audio.start_s)]
