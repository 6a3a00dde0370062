from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from coachhub.accounts.models import User
from coachhub.camps.models import Cohort
from coachhub.feedback.enums import ReviewState
from coachhub.progress import words
from coachhub.progress.domain.trends import Trend, frame_rate, metric_trend, metric_trends
from coachhub.swings.models import Readout
from tests import factories
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db]

DAY1, DAY2, DAY3 = date(2026, 6, 2), date(2026, 6, 9), date(2026, 6, 16)


@pytest.fixture
def cohort(db: None) -> Cohort:
    return factories.make_cohort()


@pytest.fixture
def student(cohort: Cohort) -> User:
    return factories.make_student(cohort)


def film(
    student: User,
    cohort: Cohort,
    day: date,
    values: list[float],
    *,
    published: bool = True,
    club: str = "iron",
    **data: Any,
) -> None:
    """One submission with a swing for each value of the metric "tilt"."""
    submission = factories.make_submission(student, cohort, range_day=day, club_class=club)
    clip = factories.make_clip(submission)
    for value in values:
        entry = {"value": value, "se": 1.0, "unit": "deg", "at": ["top"]}
        readout = factories.readout_data({}) | {"metrics": {"tilt": entry}} | data
        factories.make_swing(clip, data=readout)
    state = (
        {"state": ReviewState.PUBLISHED, "published_at": NOW, "published_by": student} if published else {}
    )
    factories.make_review(submission, **state)


def trend(student: User, cohort: Cohort, **asked: Any) -> Trend:
    given = {"view": "face_on", "club_class": "iron"}
    return metric_trend(student, cohort.camp, "tilt", **(given | asked))


def test_one_point_for_each_range_day(student: User, cohort: Cohort) -> None:
    film(student, cohort, DAY2, [20, 22])
    film(student, cohort, DAY1, [10, 11, 12])
    film(student, cohort, DAY2, [24])
    found = trend(student, cohort)
    assert [(point.day, point.value, point.n) for point in found.points] == [(DAY1, 11, 3), (DAY2, 22, 3)]
    assert found.unit == "deg"
    assert found.rate == 60


def test_a_clear_change_is_claimed_between_two_full_days(student: User, cohort: Cohort) -> None:
    film(student, cohort, DAY1, [10, 10.5, 11])
    film(student, cohort, DAY2, [60])
    film(student, cohort, DAY3, [30, 30.5, 31])
    found = trend(student, cohort)
    assert found.compared is not None
    assert [point.day for point in found.compared] == [DAY1, DAY3]
    assert found.verdict == "changed"
    assert found.change is not None
    assert found.change.value == pytest.approx(20)
    assert words.sentence(found).startswith("Between 2 June and 16 June it changed by +20")


@pytest.mark.parametrize(
    ("days", "verdict"),
    [
        ([], "none"),
        ([[10.0]], "one_swing"),
        ([[10.0], [40.0]], "one_swing"),
        ([[10.0, 11.0, 12.0]], "one_day"),
        ([[10.0, 11.0, 12.0], [40.0, 41.0]], "too_few"),
        ([[10.0, 11.0, 12.0], [10.5, 11.5, 12.5]], "no_change"),
        ([[10.0, 18.0, 26.0], [20.0, 28.0, 36.0]], "no_change"),
    ],
)
def test_no_change_is_claimed_without_enough_swings_or_within_the_noise(
    student: User, cohort: Cohort, days: list[list[float]], verdict: str
) -> None:
    for day, values in zip((DAY1, DAY2), days, strict=False):
        film(student, cohort, day, values)
    found = trend(student, cohort)
    assert found.verdict == verdict
    assert "changed by" not in words.sentence(found)


def test_only_like_is_compared_with_like(student: User, cohort: Cohort) -> None:
    film(student, cohort, DAY1, [10, 11, 12])
    film(student, cohort, DAY2, [70, 71, 72], club="driver")
    film(student, cohort, DAY2, [80, 81, 82], view="dtl")
    film(student, cohort, DAY2, [90, 91], fps=240.0)
    found = trend(student, cohort)
    assert [point.value for point in found.points] == [11]
    assert found.left_out == 2
    assert "2 swings" in words.left_out(found)
    assert [point.value for point in trend(student, cohort, club_class="driver").points] == [71]
    assert [point.value for point in trend(student, cohort, view="dtl").points] == [81]
    assert len(metric_trends(student, cohort.camp)) == 3


@pytest.mark.parametrize(
    ("fps", "rate"), [(59.94, 60), (60.2, 60), (239.76, 240), (29.97, 30), (24, 24), (75, 75)]
)
def test_a_phones_frame_rate_is_the_one_it_means(fps: float, rate: int) -> None:
    assert frame_rate(fps) == rate


def test_unpublished_swings_are_not_the_students_to_see(student: User, cohort: Cohort) -> None:
    film(student, cohort, DAY1, [10, 11, 12], published=False)
    assert trend(student, cohort).verdict == "none"
    assert [point.n for point in trend(student, cohort, only_published=False).points] == [3]


def test_nobody_elses_swings_and_no_other_camps(student: User, cohort: Cohort) -> None:
    mate = factories.make_student(cohort)
    film(mate, cohort, DAY1, [50, 51, 52])
    assert trend(student, cohort).points == []
    other = factories.make_cohort()
    factories.join(student, other)
    film(student, other, DAY1, [50, 51, 52])
    assert trend(student, cohort).points == []


def test_only_the_current_numbers_count_and_gaps_are_left_out(student: User, cohort: Cohort) -> None:
    film(student, cohort, DAY1, [10, 11])
    first = Readout.objects.order_by("pk").first()
    assert first is not None
    Readout.objects.filter(pk=first.pk).update(is_current=False)
    corrected = first.data | {"metrics": {"tilt": {"reason": "shaft unseen"}}}
    Readout.objects.create(swing=first.swing, run=first.run, revision=1, data=corrected, created_at=NOW)
    assert [(point.value, point.n) for point in trend(student, cohort).points] == [(11, 1)]


def test_one_query_however_many(student: User, cohort: Cohort, django_assert_num_queries) -> None:
    for day in (DAY1, DAY2, DAY3):
        film(student, cohort, day, [10, 11, 12])
        with django_assert_num_queries(1):
            metric_trends(student, cohort.camp)
