"""From the student's words to nodes: the nine flights of the trade's table, for either hand."""

from __future__ import annotations

import pytest

from analysis.causes.case import CURVES, STARTS, Miss
from analysis.causes.misses import inferred_nodes, reported_nodes

pytestmark = pytest.mark.unit

# Start and curve of a right-hander, the flight, and what follows for face and path (Wood, Henrikson and Broadie
# 2018, S, for the start; Jorgensen 1994, from memory, for the curve).
TABLE = [
    ("left", "left", "bf_pull_hook", {"im_face_closed", "im_face_closed_target"}),
    ("left", "none", "bf_pull", {"im_face_closed_target", "im_path_left"}),
    ("left", "right", "bf_pull_slice", {"im_face_open", "im_path_left"}),
    ("straight", "left", "bf_hook", {"im_face_closed"}),
    ("straight", "none", None, set()),
    ("straight", "right", "bf_slice", {"im_face_open"}),
    ("right", "left", "bf_hook", {"im_face_closed", "im_path_right"}),
    ("right", "none", "bf_push", {"im_face_open_target", "im_path_right"}),
    ("right", "right", "bf_push_slice", {"im_face_open", "im_face_open_target"}),
]
OTHER = {"left": "right", "right": "left"}


@pytest.mark.parametrize(("start", "curve", "flown", "inferred"), TABLE)
@pytest.mark.parametrize("hand", ["right", "left"])
def test_the_nine_flights(start: str, curve: str, flown: str | None, inferred: set[str], hand: str) -> None:
    turn = OTHER if hand == "left" else {}
    miss = Miss(turn.get(start, start), turn.get(curve, curve))
    assert reported_nodes(miss, hand) == ((flown,) if flown else ())
    assert set(inferred_nodes(miss, hand)) == inferred


def test_both_ways_is_its_own_miss() -> None:
    assert reported_nodes(Miss("both", "right"), "right") == ("bf_two_way",)
    assert inferred_nodes(Miss("both", "right"), "right") == ("im_face_open",)
    assert inferred_nodes(Miss("left", "both"), "right") == ()


@pytest.mark.parametrize("strike", ["heel", "toe"])
def test_off_the_middle_nothing_follows_from_the_curve(strike: str) -> None:
    for start in STARTS:
        for curve in CURVES:
            assert inferred_nodes(Miss(start, curve, strike), "right") == ()


def test_strike_and_height() -> None:
    strikes = {"fat": "bf_fat", "thin": "bf_thin", "top": "bf_top", "heel": "im_heel_strike"}
    for strike, node in strikes.items():
        assert reported_nodes(Miss(strike=strike), "right") == (node,)
    assert reported_nodes(Miss(height="high", strike="fat"), "left") == ("bf_fat", "bf_high_weak")
    for nothing in (Miss(), Miss(strike="clean", height="normal"), Miss(strike="toe", height="low")):
        assert reported_nodes(nothing, "right") == ()
