"""The lines over the picture that belong to a readout."""

from __future__ import annotations

import json
from typing import Any

from django.core.files.storage import default_storage

from coachhub.swings.domain.joints import with_corrected_joints
from coachhub.swings.models import Readout


def lines_of(readout: Readout) -> dict[str, Any] | None:
    """Out of the file for all swings of the clip, with what was corrected; None where nothing was stored."""
    if not readout.run.result_key:
        return None
    try:
        with default_storage.open(f"{readout.run.result_key}/tracks.json") as file:
            found = json.load(file)["swings"][readout.data.get("run_swing", readout.swing.number) - 1]
    except (FileNotFoundError, IndexError, KeyError):
        return None
    return with_corrected_joints(found, readout.data.get("joint_rows", {}))
