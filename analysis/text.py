"""A readout as plain text for a terminal."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from analysis.metrics.registry import ALL
from analysis.readout import NOT_VISIBLE

_TITLES = {row.name: row.title for row in ALL}
_VIEW_WORDS = {"face_on": "face-on", "dtl": "down-the-line", None: "unknown"}


def readout_text(readout: Mapping[str, Any]) -> str:
    """The readout's numbers in lines of text."""
    lines = [
        f"view {_VIEW_WORDS[readout['view']]}, {readout['handedness'] or 'unknown'}-handed, "
        f"{readout['fps']:g} frames/s, {'usable' if readout['usable'] else 'not usable'}"
    ]
    lines += [f"! {p['code']}: {p['sentence']}" for p in readout["problems"]]
    lines += _events(readout["events"])
    lines += _metrics(readout["metrics"])
    lines += _signs(readout["signs"])
    lines.append("Not visible to one phone: " + ", ".join(NOT_VISIBLE) + ".")
    lines.append("Signs are patterns for a coach to judge, no diagnosis; stop at pain.")
    return "\n".join(lines)


def _events(events: Mapping[str, Any]) -> list[str]:
    if not events:
        return []
    return ["", "events"] + [
        f"  {name.replace('_', ' '):26s} {e['t']:8.3f} s  +- {1.96 * e['se'] * 1000:5.0f} ms"
        for name, e in events.items()
    ]


def _metrics(metrics: Mapping[str, Any]) -> list[str]:
    rows = [
        f"  {_TITLES[name]:56s} {m['value']:8.2f} {m['unit']:13s} +- {1.96 * m['se']:.2f}"
        for name, m in metrics.items()
        if "value" in m
    ]
    lacking = [f"  {_TITLES[name]:56s} ({m['reason']})" for name, m in metrics.items() if "reason" in m]
    mine = [row for row in lacking if "needs the" not in row]
    return ["", "metrics (95 % interval)", *rows, *mine] if rows or mine else []


def _signs(signs: Mapping[str, Any]) -> list[str]:
    if not signs:
        return []
    words = {"likely": "likely", "possible": "possible", "not_seen": "not seen", "cant_tell": "can't tell"}
    rows = []
    for key, sign in signs.items():
        p = "" if sign["p"] is None else f" p {sign['p']:.2f}"
        note = f"  ({sign['note']})" if sign["note"] else ""
        rows.append(f"  {key.replace('_', ' '):22s} {words[sign['level']]:10s}{p}{note}")
    return ["", "signs", *rows]
