"""Single frames of a clip, for pictures of a swing's events."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from analysis.adapters import media
from analysis.adapters.picture import Painter
from analysis.adapters.video import Frame, pictures, presentation_times, tick_s, upright_rgb, wind_to


def frames_at(path: str | Path, times_s: Sequence[float], *, long_edge: int | None = None) -> list[Frame]:
    """The frame shown nearest to each time; only these are turned into pictures.

    Parameters
    ----------
    path : str or Path
    times_s : sequence of float
        Seconds from the first frame, in any order; times outside the clip get its first or last frame.
    long_edge : int or None
        The longer side of the pictures is at most this many pixels.

    Returns
    -------
    list of Frame
        One for each of ``times_s``, in their order; a frame that can't be decoded is replaced by the nearest
        one that can.

    Raises
    ------
    ValueError
        If a time is not finite, or ``long_edge`` < 16.
    MediaError
        If the file is refused or damaged.
    """
    if not np.all(np.isfinite(np.asarray(times_s, float))):
        raise ValueError(f"times_s must be finite seconds, got {list(times_s)}")
    if long_edge is not None and long_edge < 16:
        raise ValueError(f"long_edge must be at least 16 pixels, got {long_edge}")
    if not len(times_s):
        return []
    with media.open_container(path) as container:
        stream = media.video_stream(container)
        pts = presentation_times(container, stream)
        shown_s = (pts - pts[0]) * tick_s(stream)
    wanted = [int(np.argmin(np.abs(shown_s - t))) for t in times_s]
    found = _decoded(path, pts, sorted(set(wanted)), shown_s, long_edge)
    indices = np.array(sorted(found))
    return [found[int(indices[np.argmin(np.abs(indices - i))])] for i in wanted]


def _decoded(
    path: str | Path, pts: np.ndarray, wanted: list[int], shown_s: np.ndarray, long_edge: int | None
) -> dict[int, Frame]:
    # Opened again: a file without an index can't be wound back.
    with media.open_container(path) as container:
        stream = media.video_stream(container)
        painter, found = Painter(), {}
        if wanted[0] > 0:
            wind_to(container, stream, int(pts[wanted[0]]))
        left = list(wanted)
        for index, picture in pictures(container, stream, pts, first=wanted[0], stop=wanted[-1] + 1):
            if left and index >= left[0]:
                rgb = upright_rgb(picture, stream, long_edge, painter)
                found[index] = Frame(index, float(shown_s[index]), rgb)
                left = [i for i in left if i > index]
    if not found:
        raise media.MediaError("damaged", media.DAMAGED)
    return found
