"""Drawings hang on measured points, and nothing is drawn where nothing was measured."""

from __future__ import annotations

from uuid import UUID

import pytest

from coachhub.progress.demo.sketches import Measured, moment, sketch

pytestmark = pytest.mark.unit
ID = UUID(int=7)


def measured(**fields: object) -> Measured:
    basis: dict[str, object] = {
        "swing_id": UUID(int=1),
        "events": {"top": 0.1, "impact": 0.4},
        "t_us": [0, 100_000, 200_000, 300_000, 400_000],
        "joints": {
            "lead_hip": [[0.4, 0.5, 0.9]] * 5,
            "trail_hip": [[0.6, 0.52, 0.9]] * 5,
            "lead_shoulder": [[0.45, 0.3, 0.9]] * 4 + [None],
            "trail_shoulder": [[0.55, 0.3, 0.9]] * 5,
        },
        "shaft": [None, [0.5, 0.4, 0.7, 0.2, 0.9], [0.5, 0.4, 1.2, 0.2, 0.9], None, None],
    }
    return Measured(**basis | fields)  # type: ignore[arg-type]


def line(**fields: object) -> dict[str, object]:
    return {
        "kind": "line",
        "event": "top",
        "points": ["mid_hip", "mid_shoulder"],
        "label": "",
        "note": "",
    } | fields


def test_a_line_joins_the_middles_at_the_event() -> None:
    mark = sketch(line(), measured(), ID)
    assert mark is not None
    assert mark["points"] == [pytest.approx([0.5, 0.51]), pytest.approx([0.5, 0.3])]
    assert (mark["from_us"], mark["to_us"]) == (100_000, 170_000)


def test_a_line_can_stay_until_a_later_event() -> None:
    mark = sketch(line(until="impact"), measured(), ID)
    assert mark is not None
    assert mark["to_us"] == 400_000


def test_the_club_has_two_ends() -> None:
    mark = sketch(line(points=["club_grip", "club_head"]), measured(), ID)
    assert mark is not None
    assert mark["points"] == [[0.5, 0.4], [0.7, 0.2]]


@pytest.mark.parametrize(
    "wanted",
    [
        line(event="finish"),
        line(event="impact"),
        line(event="impact", points=["club_grip", "club_head"]),
        line(points=["nose", "mid_hip"]),
    ],
    ids=["no such event", "a joint unseen", "the club unseen", "no such joint"],
)
def test_what_was_not_measured_is_not_drawn(wanted: dict[str, object]) -> None:
    assert sketch(wanted, measured(), ID) is None


def test_a_point_outside_the_picture_is_not_drawn() -> None:
    far = measured(events={"top": 0.2})
    assert sketch(line(points=["club_grip", "club_head"]), far, ID) is None


def test_a_circle_is_round_on_the_screen() -> None:
    """Shares of width and height differ by the picture's shape: 540 x 960 is 9 to 16."""
    wanted = {"kind": "ellipse", "event": "top", "around": "lead_hip", "label": "", "note": ""}
    mark = sketch(wanted, measured(aspect=9 / 16), ID)
    assert mark is not None
    (left, up), (right, down) = mark["points"]
    assert (right - left) * 540 == pytest.approx((down - up) * 960)


def test_a_moment_is_at_the_frame_of_its_event() -> None:
    assert moment({"event": "impact", "note": "here"}, measured(), ID)["at_us"] == 400_000  # type: ignore[index]
    assert moment({"event": "finish", "note": "here"}, measured(), ID) is None
