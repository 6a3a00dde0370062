"""What the desk says of a sign: whose bands judged it, and what the view can't show of it."""

from __future__ import annotations

from typing import Any

import pytest

from coachhub.web.coach.desk.readouts import SignRow, _signs, _speaks_up
from coachhub.web.words import sign_limits

pytestmark = pytest.mark.unit


def rows(view: str, **signs: dict[str, Any]) -> dict[str, SignRow]:
    return {row.key: row for row in _signs({"view": view, "signs": signs}, [], by_id=1)}


def sign(**fields: Any) -> dict[str, Any]:
    term = {"metric": "pelvis_shift_top", "value": -20.0, "se": 3.0, "unit": "% of stance", "at": ["top"]}
    return {"level": "likely", "p": 0.9, "evidence": [term], "note": "", "bands": "shipped"} | fields


def test_a_sign_judged_with_the_camps_bands_is_marked() -> None:
    found = rows("face_on", sway=sign(bands="camp"), slide=sign())
    assert found["sway"].camp_bands
    assert not found["slide"].camp_bands
    # Readouts from before camps had bands don't say.
    older = {key: value for key, value in sign().items() if key != "bands"}
    assert not rows("face_on", sway=older)["sway"].camp_bands


def test_a_sign_that_the_camp_does_not_look_for_lies_folded() -> None:
    off = sign(level="cant_tell", p=None, note="this camp does not look for it", bands="camp", limit="off")
    slow = sign(level="cant_tell", p=None, note="30 frames a second are too few", limit="fps")
    found = rows("face_on", sway=off, slide=slow)
    assert not _speaks_up(found["sway"])
    assert found["sway"].note == "this camp does not look for it"
    assert _speaks_up(found["slide"])


def test_each_view_says_what_it_cant_show() -> None:
    assert "not pressure" in rows("face_on", slide=sign())["slide"].limits
    assert rows("dtl", slide=sign())["slide"].limits == ""
    assert sign_limits("steep_plane", "dtl").endswith("From 25 frames a second on.")
