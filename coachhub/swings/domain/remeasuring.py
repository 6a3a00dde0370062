"""The bridge to the numbers: a readout anew from stored tracks, with events where a coach put them."""

from __future__ import annotations

from pathlib import Path
from typing import Any


def remeasured(folder: Path, data: dict[str, Any], events: dict[str, float]) -> dict[str, Any]:
    """Readout data with the given event times (seconds from the clip's start) in place of the found ones.

    Raises ValueError if the times can't be those of one swing.
    """
    # Imported late: numpy is not needed to show a page.
    from analysis.pipeline import remeasure_from_dir

    fresh = remeasure_from_dir(str(folder), data["run_swing"], events)
    kept = {name: data[name] for name in ("start_s", "end_s", "run_swing")}
    return {**fresh, **kept}
