"""What a browser noted during a talk-through: checked piece by piece, and its parts joined into one time line."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from typing import Any
from uuid import UUID

from analysis.adapters.talkline import LAYERS, TalkReader, TalkState, place_at
from coachhub.common.domain.errors import RuleBroken
from coachhub.feedback.domain.marks import LATEST_US
from coachhub.feedback.enums import Layout, Lock, MarkKind, MarkWeight

LONGEST_MS = 600_000
SHORTEST_MS = 300
MOST_CUTS = 60
MOST_TAKES = 60
MOST_EVENTS = 20_000
MOST_POINTS = 3_000
FASTEST = 4.0
MOST_EVENTS_MAPPED = 20

Data = Mapping[str, Any]
Cut = tuple[int, int, int]


def checked_script(script: Any, swings: Collection[str]) -> dict[str, Any]:
    """The script with nothing in it but what a replay needs; RuleBroken for what can't be replayed."""
    if not isinstance(script, dict):
        raise _broken()
    cuts = _cuts(script.get("cuts"))
    events = script.get("events")
    if not isinstance(events, list) or len(events) > MOST_EVENTS:
        raise _broken()
    known = frozenset(swings)
    return {"cuts": cuts, "events": [_event(event, known) for event in events]}


def _broken() -> RuleBroken:
    return RuleBroken("script", "This talk arrived broken. It is still on your device; send it again.")


def _cuts(given: Any) -> list[Cut]:
    if not isinstance(given, list) or len(given) > MOST_CUTS:
        raise _broken()
    cuts = [_cut(one) for one in given]
    length = length_of(cuts)
    if length < SHORTEST_MS:
        raise RuleBroken("too_short", "Nothing was said yet. Press Record and talk over the swing.")
    if length > LONGEST_MS:
        raise RuleBroken(
            "too_long", "A talk can last ten minutes. Take back the last part and say it shorter."
        )
    return cuts


def _cut(one: Any) -> Cut:
    if not isinstance(one, list) or len(one) != 3:
        raise _broken()
    take, start, end = (_whole(value, 0, LONGEST_MS) for value in one)
    if not 1 <= take <= MOST_TAKES or end <= start:
        raise _broken()
    return take, start, end


def _whole(value: Any, low: int, high: int) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
        raise _broken()
    return value


def _event(event: Any, swings: frozenset[str]) -> dict[str, Any]:
    if not isinstance(event, dict):
        raise _broken()
    when = {
        "take": _whole(event.get("take"), 1, MOST_TAKES),
        "ms": _whole(event.get("ms"), 0, 2 * LONGEST_MS),
    }
    kind = event.get("kind")
    if kind == "place":
        return {**when, "kind": kind, **_place(event, swings)}
    if kind == "put":
        return {**when, "kind": kind, "mark": _mark(event.get("mark"), swings)}
    if kind == "grow":
        mark = event.get("mark")
        return {**when, "kind": kind, "mark": None if mark is None else _mark(mark, swings)}
    if kind == "more":
        return {**when, "kind": kind, "points": _points(event.get("points"))}
    if kind == "gone":
        return {**when, "kind": kind, "uid": _uid(event.get("uid"))}
    if kind == "pair":
        return {**when, "kind": kind, "pair": _pair(event.get("pair"))}
    if kind == "other":
        return {**when, "kind": kind, "us": _whole(event.get("us"), 0, LATEST_US)}
    if kind == "layers":
        return {**when, "kind": kind, **{name: bool(event.get(name)) for name in LAYERS}}
    raise _broken()


def _place(event: Data, swings: frozenset[str]) -> dict[str, Any]:
    rate = event.get("rate")
    if isinstance(rate, bool) or not isinstance(rate, int | float) or not abs(rate) <= FASTEST:
        raise _broken()
    return {"swing": _swing(event, swings), "us": _whole(event.get("us"), 0, LATEST_US), "rate": rate}


def _swing(data: Data, swings: frozenset[str]) -> str:
    swing = data.get("swing")
    if swing not in swings:
        raise RuleBroken("swing", "The talk shows a swing that is not of this submission. Record it anew.")
    return str(swing)


def _mark(mark: Any, swings: frozenset[str]) -> dict[str, Any]:
    if not isinstance(mark, dict) or mark.get("kind") not in MarkKind.values:
        raise _broken()
    return {
        "uid": _uid(mark.get("uid")),
        "swing": _swing(mark, swings),
        "kind": str(mark["kind"]),
        "points": _points(mark.get("points")),
        "from_us": round(_number(mark.get("from_us"), LATEST_US)),
        "to_us": round(_number(mark.get("to_us"), LATEST_US)),
        "label": str(mark.get("label") or "")[:120],
        "note": str(mark.get("note") or "")[:300],
        **_following(mark),
        **_style(mark),
    }


def _style(mark: Data) -> dict[str, Any]:
    """How its line is drawn, where that is not as usual."""
    weight = mark.get("weight", MarkWeight.NORMAL)
    if weight not in MarkWeight.values:
        raise _broken()
    style: dict[str, Any] = {} if weight == MarkWeight.NORMAL else {"weight": weight}
    return style | ({"is_dashed": True} if mark.get("is_dashed") is True else {})


def _following(mark: Data) -> dict[str, Any]:
    """What the drawing goes with, where it goes with anything."""
    if not mark.get("follows"):
        return {}
    anchor = mark.get("anchor_us")
    return {
        "follows": str(mark["follows"])[:20],
        "anchor_us": None if anchor is None else round(_number(anchor, LATEST_US)),
    }


def _uid(value: Any) -> str:
    try:
        return str(UUID(str(value)))
    except ValueError:
        raise _broken() from None


def _number(value: Any, most: float) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value <= most:
        raise _broken()
    return float(value)


def _points(points: Any) -> list[list[float]]:
    if not isinstance(points, list) or not 1 <= len(points) <= MOST_POINTS:
        raise _broken()
    return [_point(point) for point in points]


def _point(point: Any) -> list[float]:
    if not isinstance(point, list) or len(point) != 2:
        raise _broken()
    x, y = (_number(value, 1) for value in point)
    if not math.isfinite(x + y):
        raise _broken()
    return [round(x, 5), round(y, 5)]


def _pair(pair: Any) -> dict[str, Any] | None:
    """What stands beside it, and by which time map the two were held together while the coach spoke."""
    if pair is None:
        return None
    if (
        not isinstance(pair, dict)
        or pair.get("lock") not in Lock.values
        or pair.get("layout") not in Layout.values
    ):
        raise _broken()
    offset = pair.get("offset_us")
    if isinstance(offset, bool) or not isinstance(offset, int) or abs(offset) > LATEST_US:
        raise _broken()
    return {
        "second": _uid(pair.get("second")),
        "words": str(pair.get("words") or "")[:200],
        "lock": str(pair["lock"]),
        "layout": str(pair["layout"]),
        "offset_us": offset,
        "opacity": _whole(pair.get("opacity"), 0, 100),
        "is_mirrored": pair.get("is_mirrored") is True,
        "time_map": _time_map(pair.get("time_map")),
    }


def _time_map(given: Any) -> dict[str, Any]:
    if not given:
        return {}
    if not isinstance(given, dict):
        raise _broken()
    return {
        "events": [str(name)[:40] for name in _short_list(given.get("events"))],
        "first_us": [_whole(us, 0, LATEST_US) for us in _short_list(given.get("first_us"))],
        "second_us": [_whole(us, 0, LATEST_US) for us in _short_list(given.get("second_us"))],
    }


def _short_list(value: Any) -> list[Any]:
    if not isinstance(value, list) or len(value) > MOST_EVENTS_MAPPED:
        raise _broken()
    return value


def length_of(cuts: Collection[Cut]) -> int:
    """Milliseconds of a talk."""
    return sum(end - start for _, start, end in cuts)


def beside_of(script: Data) -> set[str]:
    """Ids of the swings that stood beside one of the submission."""
    return {
        event["pair"]["second"] for event in script["events"] if event["kind"] == "pair" and event["pair"]
    }


def takes_of(script: Data) -> list[int]:
    """The takes that a script uses, each once, in order of their first use."""
    return list(dict.fromkeys(take for take, _, _ in script["cuts"]))


def joined(script: Data) -> dict[str, Any]:
    """One time line over all cuts: each begins with what was on screen at its first moment.

    Returns ``duration_ms`` and ``events`` in order of ``ms`` counted from the beginning of the talk.
    """
    events: list[dict[str, Any]] = []
    begin = 0
    for take, start, end in script["cuts"]:
        own = [event for event in script["events"] if event["take"] == take]
        own.sort(key=lambda event: event["ms"])
        events += _opening(TalkReader(own).at(start), start, begin)
        events += [_moved(event, begin + event["ms"] - start) for event in own if start < event["ms"] < end]
        begin += end - start
    return {"duration_ms": begin, "events": events}


def _moved(event: Data, ms: int) -> dict[str, Any]:
    return {key: value for key, value in event.items() if key != "take"} | {"ms": ms}


def _opening(state: TalkState, at_ms: int, ms: int) -> list[dict[str, Any]]:
    deeds: list[dict[str, Any]] = [{"kind": "clear"}]
    place = place_at(state, at_ms)
    if place is not None:
        deeds.append({"kind": "place", **place})
    deeds.append({"kind": "layers", **state.layers})
    deeds += [{"kind": "put", "mark": mark} for mark in state.marks]
    if state.growing is not None:
        deeds.append({"kind": "grow", "mark": state.growing})
    if state.pair is not None:
        deeds.append({"kind": "pair", "pair": state.pair})
    return [{**deed, "ms": ms} for deed in deeds]
