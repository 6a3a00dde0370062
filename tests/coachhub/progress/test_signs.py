from __future__ import annotations

from datetime import date, timedelta

import pytest

from coachhub.progress.domain.judged import Judged, Status
from coachhub.progress.domain.signs import Course, course_of, sign_change, sign_prevalence

pytestmark = pytest.mark.unit

YES, NO, UNSEEN, BOTH = Status.CONFIRMED, Status.NOT_CONFIRMED, Status.CANT_TELL, Status.DISPUTED
FIRST = date(2026, 6, 1)


def judged(student: int, week: int, **signs: Status) -> Judged:
    day = FIRST + timedelta(days=7 * (week - 1))
    return Judged(0, student, f"Student {student}", 1, day, week, signs)


def test_students_are_counted_not_submissions() -> None:
    found = [
        judged(1, 1, sway=YES),
        judged(1, 1, sway=YES),
        judged(2, 1, sway=NO),
        judged(3, 1, sway=UNSEEN),
        judged(1, 2, sway=NO),
        judged(2, 2, sway=BOTH),
    ]
    (row,) = sign_prevalence(found, [1, 2, 3])
    assert [(week.confirmed, week.students) for week in row.weeks] == [(1, 2), (0, 2), (0, 0)]
    assert (row.confirmed, row.students) == (1, 2)
    assert [week.share for week in row.weeks] == [0.5, 0.0, None]


def test_a_week_with_both_words_counts_as_confirmed() -> None:
    (row,) = sign_prevalence([judged(1, 1, sway=NO), judged(1, 1, sway=YES)], [1])
    assert (row.weeks[0].confirmed, row.weeks[0].students) == (1, 1)


def test_signs_never_confirmed_are_left_out_and_the_commonest_comes_first() -> None:
    found = [judged(1, 1, sway=YES, slide=YES, poor_hinge=NO), judged(2, 1, sway=NO, slide=YES)]
    assert [row.sign for row in sign_prevalence(found, [1])] == ["slide", "sway"]


@pytest.mark.parametrize(
    ("states", "course"),
    [
        ([YES], Course.ONE_DAY),
        ([YES, YES], Course.STAYED),
        ([YES, NO, YES], Course.STAYED),
        ([YES, NO], Course.FADED),
        ([YES, BOTH], Course.FADED),
        ([NO, YES], Course.CAME),
        ([NO, YES, NO], Course.BETWEEN),
    ],
)
def test_the_course_of_a_sign(states: list[Status], course: Course) -> None:
    assert course_of(states) == course


def test_a_course_needs_a_confirmed_day() -> None:
    with pytest.raises(ValueError, match="states"):
        course_of([NO, NO])


def test_days_on_which_it_could_not_be_seen_say_nothing() -> None:
    found = [judged(1, 1, sway=YES), judged(1, 2, sway=UNSEEN)]
    (row,) = sign_change(found)
    assert (row.course, row.sessions) == (Course.ONE_DAY, 1)
    assert row.by_week == {1: YES, 2: UNSEEN}


def test_one_row_per_student_and_confirmed_sign_whatever_the_order() -> None:
    found = [
        judged(2, 3, sway=NO),
        judged(1, 1, sway=YES, slide=NO),
        judged(2, 1, sway=YES),
        judged(1, 2, sway=YES),
    ]
    rows = sign_change(reversed(found))
    assert [(row.student_id, row.sign, row.course) for row in rows] == [
        (1, "sway", Course.STAYED),
        (2, "sway", Course.FADED),
    ]
