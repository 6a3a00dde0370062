"""A readout as plain text for a terminal."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from analysis.metrics.registry import ALL
from analysis.numbers import number_words
from analysis.readout import NOT_PRESSURE, NOT_VISIBLE, UNVALIDATED

_SPECS = {row.name: row for row in ALL}
_VIEW_WORDS = {"face_on": "face-on", "dtl": "down-the-line", None: "unknown"}
_LEVEL_WORDS = {"likely": "likely", "possible": "possible", "not_seen": "not seen", "cant_tell": "can't tell"}
SET_UP = "set-up"


def readout_text(readout: Mapping[str, Any]) -> str:
    """The readout in lines of text: events, set-up and other numbers, signs, and what it can't know."""
    lines = [
        f"view {_VIEW_WORDS[readout['view']]}, {readout['handedness'] or 'unknown'}-handed, "
        f"{readout['fps']:g} frames/s, {'usable' if readout['usable'] else 'not usable'}"
    ]
    lines += [f"! {p['code']}: {p['sentence']}" for p in readout["problems"]]
    lines += _club(readout.get("club_source"))
    lines += _events(readout["events"])
    lines += _metrics(readout["metrics"])
    lines += _signs(readout["signs"])
    lines += [
        "",
        "Not visible to one phone: " + ", ".join(NOT_VISIBLE) + ".",
        NOT_PRESSURE,
        UNVALIDATED,
        "Signs are patterns for a coach to judge, no diagnosis; stop at pain.",
    ]
    return "\n".join(lines)


def _club(shares: Mapping[str, float] | None) -> list[str]:
    """Who told the shaft's direction; readouts of earlier versions don't say."""
    if shares is None or shares["unseen"] == 1:
        return []
    return [
        f"club source: network {shares['network']:.0%}, lines in the picture {shares['lines']:.0%}, "
        f"unseen {shares['unseen']:.0%} of the frames"
    ]


def _events(events: Mapping[str, Any]) -> list[str]:
    if not events:
        return []
    return ["", "events (95 % interval)"] + [
        f"  {name.replace('_', ' '):26s} {e['t']:8.3f} s  ± {1.96 * e['se'] * 1000:4.0f} ms"
        for name, e in events.items()
    ]


def _metrics(metrics: Mapping[str, Any]) -> list[str]:
    """Set-up first, then the swing; what has no value says why, except for the numbers of the other view."""
    here = {name: m for name, m in metrics.items() if "needs the" not in m.get("reason", "")}
    set_up = {name: m for name, m in here.items() if is_set_up(name)}
    swing = {name: m for name, m in here.items() if name not in set_up}
    lines: list[str] = []
    for heading, rows in ((SET_UP, set_up), ("swing", swing)):
        if rows:
            lines += ["", f"{heading} (95 % interval)"]
            lines += [
                _line(name, m) for name, m in sorted(rows.items(), key=lambda item: "reason" in item[1])
            ]
    return lines


def is_set_up(name: str) -> bool:
    """Whether a metric is of the address alone."""
    spec = _SPECS.get(name)
    return spec is not None and spec.at == ("address",)


def _line(name: str, metric: Mapping[str, Any]) -> str:
    title = _SPECS[name].title if name in _SPECS else name.replace("_", " ")
    if "value" not in metric:
        return f"  {title:56s} ({metric['reason']})"
    return f"  {title:56s} {number_words(metric['value'], metric['se'], metric['unit'])}"


def _signs(signs: Mapping[str, Any]) -> list[str]:
    if not signs:
        return []
    rows = []
    for key, sign in signs.items():
        p = "" if sign["p"] is None else f" p {sign['p']:.2f}"
        note = f"  ({sign['note']})" if sign["note"] else ""
        rows.append(f"  {key.replace('_', ' '):22s} {_LEVEL_WORDS[sign['level']]:10s}{p}{note}".rstrip())
    return ["", "signs", *rows]
