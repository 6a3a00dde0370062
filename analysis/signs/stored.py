"""Signs of a stored readout judged anew: no picture is opened and nothing is measured again."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from analysis.signs.bands import Bands
from analysis.signs.evaluate import find_signs
from analysis.types import EventTime, Metric


def judge_stored(readout: Mapping[str, Any], bands: Bands) -> dict[str, Any]:
    """The ``signs`` of a readout as ``SwingReadout.to_json`` gave it, with a camp's bands.

    A sign that the readout's frame rate or view could not tell stays untold. Of a readout by an older
    version the numbers it has count; a metric that it did not know is missing.

    Parameters
    ----------
    readout : mapping
        ``view``, ``fps``, ``stretch``, ``events`` and ``metrics`` of one swing.
    bands : Bands

    Raises
    ------
    ValueError
        If the readout holds no measured swing.
    """
    if readout.get("view") is None:
        raise ValueError("readout must be of a measured swing, got one without a view")
    events = {name: EventTime(e["t"], e["se"], "stored") for name, e in readout["events"].items()}
    metrics = _Stored({name: _metric(name, row) for name, row in readout["metrics"].items()})
    fps = float(readout["fps"]) * float(readout.get("stretch", 1.0))
    signs = find_signs(metrics, events, readout["view"], fps=fps, bands=bands)
    return {key: sign.to_json() for key, sign in signs.items()}


class _Stored(dict[str, Metric]):
    """Metrics by name; an unknown one is missing."""

    def __missing__(self, name: str) -> Metric:
        return Metric(name, "", reason="an older version of the measuring did not know this number")


def _metric(name: str, row: Mapping[str, Any]) -> Metric:
    if row.get("value") is None:
        return Metric(name, "", reason=row.get("reason"))
    return Metric(name, row["unit"], row["value"], row["se"], tuple(row["at"]))
