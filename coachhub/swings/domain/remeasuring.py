"""The bridge to the numbers: a readout anew from stored tracks, with events and joints where a coach put them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any


@dataclass(frozen=True)
class Corrections:
    """What coaches set of a swing: events in seconds from the clip's start, joints as (name, microseconds, x, y)."""

    events: dict[str, float]
    joints: tuple[tuple[str, int, float, float], ...] = ()

    def __bool__(self) -> bool:
        return bool(self.events or self.joints)


def remeasured(folder: Path, data: dict[str, Any], corrections: Corrections) -> dict[str, Any]:
    """Readout data with the corrected events and joints in place of the found ones.

    Raises ValueError if the times can't be those of one swing.
    """
    # Imported late: numpy is not needed to show a page.
    from analysis.corrected import JointFix
    from analysis.pipeline import remeasure_from_dir

    fixes = [JointFix(name, t_us / 1e6, (x, y)) for name, t_us, x, y in corrections.joints]
    fresh = remeasure_from_dir(str(folder), data["run_swing"], corrections.events, fixes)
    kept: dict[str, Any] = {
        name: data[name] for name in ("start_s", "end_s", "run_swing", "pictures") if name in data
    }
    return {**fresh, **kept}
