"""What may be called a change: the rule, its refusals and its words."""

from __future__ import annotations

import math
import random

import pytest

from analysis.compare import MeasuredSwing, compare_sessions, compare_swings, usual_rate, words
from analysis.types import Metric

pytestmark = pytest.mark.unit


def swing(
    value: float | None, se: float = 1.0, *, view: str = "face_on", club: str | None = "iron", fps: float = 60
) -> MeasuredSwing:
    metric = (
        Metric("trunk_tilt_top", "deg", reason="shaft unseen")
        if value is None
        else Metric("trunk_tilt_top", "deg", value, se)
    )
    return MeasuredSwing(view, club, fps, {"trunk_tilt_top": metric})


def session(*values: float | None, se: float = 1.0, **filmed: object) -> list[MeasuredSwing]:
    return [swing(value, se, **filmed) for value in values]  # type: ignore[arg-type]


def test_two_swings_are_one_swing_only_however_far_apart() -> None:
    found = compare_swings(swing(5.0), swing(25.0))["trunk_tilt_top"]
    assert (found.difference, found.verdict, found.beyond_noise) == (20.0, "one_swing", True)
    assert found.detectable == pytest.approx(1.96 * math.sqrt(2))
    assert words(found) == "one swing only: +20 deg, more than measuring alone can make (2.8 deg)"


def test_two_swings_within_noise() -> None:
    found = compare_swings(swing(5.0, 2.0), swing(9.0, 2.0))["trunk_tilt_top"]
    assert (found.beyond_noise, found.detectable) == (False, pytest.approx(5.54, abs=0.01))
    assert words(found) == "one swing only: +4 deg, no more than measuring alone can make (5.5 deg)"


def test_a_reference_may_have_another_rate_and_club_but_not_another_view() -> None:
    found = compare_swings(swing(5.0), swing(9.0, fps=240, club="driver"))
    assert found["trunk_tilt_top"].difference == 4
    with pytest.raises(ValueError, match=r"view must be the same on both sides, got \['dtl', 'face_on'\]"):
        compare_swings(swing(5.0), swing(5.0, view="dtl"))


def test_a_missing_number_says_why() -> None:
    found = compare_swings(swing(5.0), swing(None))["trunk_tilt_top"]
    assert (found.verdict, found.difference, found.counts) == ("not_measured", None, (1, 0))
    assert words(found) == "not compared: shaft unseen"
    alone = compare_swings(swing(5.0), MeasuredSwing("face_on", "iron", 60, {}))["trunk_tilt_top"]
    assert (alone.before, alone.reason) == (5.0, "not measured")


def test_sessions_that_differ_are_changed() -> None:
    found = compare_sessions(session(30, 31, 29), session(45, 46, 44))["trunk_tilt_top"]
    assert (found.verdict, found.difference, found.counts) == ("changed", pytest.approx(15), (3, 3))
    assert words(found).startswith("changed by +15 deg (± ")


def test_sessions_within_their_spread_are_no_change() -> None:
    found = compare_sessions(session(20, 30, 40), session(28, 38, 48))["trunk_tilt_top"]
    assert found.verdict == "no_change"
    assert words(found).startswith("no change we can measure (+8 deg")


@pytest.mark.parametrize(
    ("before", "verdict", "start"),
    [([30.0], "one_swing", "one swing only: "), ([30.0, 30.1], "too_few", "fewer than 3 swings: ")],
)
def test_fewer_than_three_swings_never_change(before: list[float], verdict: str, start: str) -> None:
    for pair in ((before, [60.0, 60.1, 59.9]), ([60.0, 60.1, 59.9], before)):
        found = compare_sessions(session(*pair[0]), session(*pair[1]))["trunk_tilt_top"]
        assert found.verdict == verdict
        assert words(found).startswith(start)
        assert "changed" not in words(found)


def test_swings_without_the_number_do_not_count() -> None:
    found = compare_sessions(session(30, 31, None, None), session(45, 46, 44))["trunk_tilt_top"]
    assert (found.counts, found.verdict) == ((2, 3), "too_few")
    none = compare_sessions(session(None), session(45, 46, 44))["trunk_tilt_top"]
    assert (none.counts, none.verdict, none.reason) == ((0, 3), "not_measured", "shaft unseen")


@pytest.mark.parametrize(
    ("before", "after", "message"),
    [
        (session(1, 2, 3), session(1, 2, 3, view="dtl"), "view"),
        (session(1, 2, 3), session(1, 2, 3, club="driver"), r"club_class .* \['driver', 'iron'\]"),
        (session(1, 2, 3, club=None), session(1, 2, 3, club=None), r"club_class .* \['None'\]"),
        (session(1, 2, 3), session(1, 2, 3, fps=120), r"frame rate .* \['120', '60'\]"),
        (session(1, 2), [], "at least one swing, got 2 and 0"),
    ],
)
def test_unlike_sessions_are_refused(
    before: list[MeasuredSwing], after: list[MeasuredSwing], message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        compare_sessions(before, after)


@pytest.mark.parametrize(
    ("fps", "rate"), [(59.94, 60), (60.2, 60), (29.97, 30), (23.976, 24), (239.7, 240), (90, 90)]
)
def test_the_rate_a_phone_means(fps: float, rate: int) -> None:
    assert usual_rate(fps) == rate


def test_a_nominal_sixty_counts_as_sixty() -> None:
    found = compare_sessions(session(1, 2, 3, fps=59.94), session(1, 2, 3, fps=60.2))
    assert found["trunk_tilt_top"].verdict == "no_change"


def test_the_word_changed_is_rarely_wrong_and_mostly_right() -> None:
    """Noise 2 and spread 2 degrees, five swings a side.

    Then the interval's half is about 5.5 degrees and the difference itself scatters by 2.5 (half of the noise
    variance is shared by a session): by the normal law 8 degrees are called a change in about 0.84 of cases, 10
    degrees in about 0.96.
    """
    rnd = random.Random(4)

    def played(middle: float) -> list[MeasuredSwing]:
        shared = rnd.gauss(0, 2 * math.sqrt(0.5))
        return session(
            *(middle + shared + rnd.gauss(0, 2) + rnd.gauss(0, 2 * math.sqrt(0.5)) for _ in range(5)), se=2.0
        )

    def share(shift: float) -> float:
        found = [compare_sessions(played(30), played(30 + shift))["trunk_tilt_top"] for _ in range(400)]
        return sum(each.verdict == "changed" for each in found) / 400

    assert share(0.0) <= 0.05
    assert share(8.0) == pytest.approx(0.84, abs=0.06)
    assert share(10.0) >= 0.92


def test_swapping_the_sides_turns_the_sign_only() -> None:
    one, other = session(30, 33, 29, se=1.5), session(41, 44, 39, 42)
    there = compare_sessions(one, other)["trunk_tilt_top"]
    back = compare_sessions(other, one)["trunk_tilt_top"]
    assert back.difference == pytest.approx(-there.difference)  # type: ignore[operator]
    assert (back.detectable, back.verdict) == (pytest.approx(there.detectable), there.verdict)


def test_units_must_agree() -> None:
    odd = MeasuredSwing("face_on", "iron", 60, {"trunk_tilt_top": Metric("trunk_tilt_top", "rad", 0.1, 0.1)})
    with pytest.raises(ValueError, match="unit"):
        compare_swings(swing(5.0), odd)


@pytest.mark.parametrize(
    ("given", "message"), [({"view": "top"}, "view"), ({"club": "putter"}, "club_class"), ({"fps": 0}, "fps")]
)
def test_a_wrong_swing_is_refused(given: dict[str, object], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        swing(1.0, **given)  # type: ignore[arg-type]
