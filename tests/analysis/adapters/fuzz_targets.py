"""What a confined child does with damaged clips."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from analysis.adapters.audio import read_audio
from analysis.adapters.media import MediaError
from analysis.adapters.video import decode, probe


def look_at_all(paths: list[str], report: Callable[[str, float], None]) -> list[dict[str, Any]]:
    """Probe, decode and listen to each file: ``{"code"}`` of the refusal or "plays", ``{"mistake"}`` if ours."""
    return [_look_at(path) for path in paths]


def _look_at(path: str) -> dict[str, Any]:
    try:
        probe(path)
        frames = sum(1 for _ in decode(path, long_edge=64))
        read_audio(path, 8000)
    except MediaError as refused:
        return {"code": refused.code, "sentence": refused.sentence}
    except Exception as error:
        return {"mistake": repr(error)}
    return {"code": "plays", "frames": frames}
