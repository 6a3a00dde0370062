"""How coarsely a clip's pictures were squeezed, by the codec's own word."""

from __future__ import annotations

import gc
import struct
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np

from analysis.adapters import media
from analysis.adapters.video import Probe

# Below this many bits a pixel and frame a clip may have been squeezed hard; above it nobody need look.
FEW_BITS = 0.03
PICTURES = 12
# A frame that was asked for its side data refers to itself: so many may wait for the garbage collector.
AT_ONCE = 4
# libavutil/video_enc_params.h: count, two sizes, kind, then the picture's quantiser.
_QUANTISER_AT = struct.calcsize("=I4xQQi")


def quantiser_of(path: Path, clip: Probe) -> float | None:
    """Median quantiser (0..51) of the first pictures of an H.264 clip with few bits; None for any other clip.

    Parameters
    ----------
    path : Path
    clip : Probe
        From ``video.probe``.
    """
    bits = 8 * path.stat().st_size / max(1, clip.width * clip.height * clip.frame_count)
    if clip.codec != "h264" or bits > FEW_BITS:
        return None
    with media.open_container(path) as container:
        stream = media.video_stream(container)
        stream.codec_context.options = {"export_side_data": "venc_params"}
        told: list[int] = []
        for count, frame in enumerate(islice(container.decode(stream), PICTURES), 1):
            quantiser = _said_by(frame)
            told += [] if quantiser is None else [quantiser]
            if count % AT_ONCE == 0:
                gc.collect()
    return float(np.median(told)) if told else None


def _said_by(frame: Any) -> int | None:
    for data in frame.side_data:
        if data.type.name == "VIDEO_ENC_PARAMS":
            return int(struct.unpack_from("=i", bytes(data), _QUANTISER_AT)[0])
    return None
