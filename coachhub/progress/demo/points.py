"""A swing's stored numbers as what a drawing can hang on."""

from __future__ import annotations

import json
from typing import Any

from coachhub.progress.demo.sketches import Measured
from coachhub.swings.domain.files import result_folder
from coachhub.swings.models import Readout, Swing


def of(swing: Swing) -> Measured | None:
    """None where the swing was not measured."""
    readout = Readout.objects.select_related("run").filter(swing=swing, is_current=True).first()
    if readout is None or not readout.run.result_key:
        return None
    data = readout.data
    with result_folder(readout.run) as folder:
        told: dict[str, Any] = json.loads((folder / "tracks.json").read_text(encoding="utf-8"))
    tracks = told["swings"][data["run_swing"] - 1]
    clip = swing.clip
    return Measured(
        swing_id=swing.public_id,
        events={name: float(event["t"]) for name, event in data["events"].items()},
        t_us=tracks["t_us"],
        joints=_sided(tracks["joints"], data["handedness"]),
        shaft=tracks["shaft"],
        aspect=(clip.width or 9) / (clip.height or 16),
    )


def _sided(joints: dict[str, Any], hand: str) -> dict[str, Any]:
    """Left and right as lead and trail; names that are sided already stay."""
    sides = {"left": "lead", "right": "trail"} if hand == "right" else {"left": "trail", "right": "lead"}
    renamed = {}
    for name, track in joints.items():
        side, _, part = name.partition("_")
        renamed[f"{sides[side]}_{part}" if side in sides else name] = track
    return renamed
