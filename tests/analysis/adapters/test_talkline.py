"""The time line in Python says what the browser's says: the same cases as tests/js/talk.test.mjs."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from analysis.adapters.talkline import TalkReader, TalkState, after, place_at, shown_marks

CASES = json.loads((Path(__file__).parents[2] / "js" / "talk_cases.json").read_text())


@pytest.mark.parametrize("case", CASES["timelines"], ids=lambda case: case["name"])
def test_time_lines(case: dict[str, Any]) -> None:
    reader = TalkReader(case["events"])
    for look in case["looks"]:
        state = reader.at(look["ms"])
        assert place_at(state, look["ms"]) == look["place"]
        assert [[mark["uid"], len(mark["points"])] for mark in shown_marks(state)] == look["marks"]


def test_an_earlier_time_can_be_asked_again() -> None:
    reader = TalkReader(CASES["timelines"][0]["events"])
    early = reader.at(0)
    reader.at(9_999)
    assert reader.at(0) == early


def test_an_unknown_kind_is_refused() -> None:
    with pytest.raises(ValueError, match="kind must be one a talk knows"):
        after(TalkState(), {"ms": 0, "kind": "juggle"})
