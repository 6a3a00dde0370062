"""A recorded greeting, sound or film: from what a browser or a phone made to what plays everywhere."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from analysis.adapters import media
from analysis.adapters.rendition import RENDITION, render_to_dir
from analysis.adapters.voice import voice_to_dir

Report = Callable[[str, float], None]


def greeting_to_dir(path: str, out_dir: str, report: Report) -> dict[str, Any]:
    """Turn a recording into ``voice.m4a``, or, if it has pictures, into ``rendition.mp4`` with its sound.

    Parameters
    ----------
    path : str
        WebM, Matroska, MP4 or QuickTime, by content.
    out_dir : str
        An existing folder.
    report : callable
        Called with stage and percentage.

    Returns
    -------
    dict
        ``name`` of the file made, ``is_film`` (bool) and ``duration_ms`` (int, ms).

    Raises
    ------
    MediaError
        As `analysis.adapters.voice.voice_to_dir` for sound and `analysis.adapters.rendition.render_to_dir` for film.
    """
    with media.open_container(path) as container:
        is_film = bool(container.streams.video)
    if is_film:
        film = render_to_dir(path, out_dir, report)
        return {"name": RENDITION, "is_film": True, "duration_ms": round(1000 * film["duration_s"])}
    sound = voice_to_dir(path, out_dir, report)
    return {"name": "voice.m4a", "is_film": False, "duration_ms": sound["duration_ms"]}
