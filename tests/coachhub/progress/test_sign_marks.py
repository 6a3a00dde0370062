from __future__ import annotations

from datetime import date

import pytest

from coachhub.accounts.models import User
from coachhub.camps.models import Cohort
from coachhub.progress.domain.sign_marks import MARK_WORDS, Mark, SignMarks, all_marks, confirmed_marks
from coachhub.swings.models import SignJudgement, Swing
from tests import factories
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db]

DAY1, DAY2 = date(2026, 6, 2), date(2026, 6, 9)


@pytest.fixture
def cohort(db: None) -> Cohort:
    return factories.make_cohort()


@pytest.fixture
def student(cohort: Cohort) -> User:
    return factories.make_student(cohort)


@pytest.fixture
def coach(db: None) -> User:
    return factories.make_user()


def film(student: User, cohort: Cohort, day: date, signs: dict[str, str], coach: User | None = None) -> Swing:
    """Answered by ``coach``, or not yet."""
    sent = factories.make_submission(student, cohort, range_day=day)
    swing = factories.make_swing(factories.make_clip(sent), signs=signs)
    out = {"state": "published", "published_at": NOW, "published_by": coach} if coach else {}
    factories.make_review(sent, **out)
    return swing


def say(swing: Swing, sign: str, verdict: str, by: User) -> None:
    SignJudgement.objects.create(swing=swing, sign=sign, verdict=verdict, by=by, created_at=NOW)


def told(marks: SignMarks) -> dict[str, list[str | None]]:
    return {row.sign: list(row.marks) for row in marks.rows}


def test_a_student_sees_what_a_coach_confirmed_and_no_machines_word(
    student: User, cohort: Cohort, coach: User
) -> None:
    first = film(student, cohort, DAY1, {"sway": "likely", "slide": "likely"}, coach)
    say(first, "sway", "agree", coach)
    film(student, cohort, DAY2, {"sway": "likely", "slide": "possible"}, coach)
    assert told(confirmed_marks(student, cohort.camp)) == {"sway": [Mark.CONFIRMED, Mark.NOT_CONFIRMED]}


def test_staff_see_the_measuring_where_no_coach_spoke(student: User, cohort: Cohort, coach: User) -> None:
    first = film(
        student, cohort, DAY1, {"sway": "likely", "slide": "possible", "poor_hinge": "not_seen"}, coach
    )
    say(first, "sway", "not_this", coach)
    film(student, cohort, DAY2, {"sway": "likely", "slide": "cant_tell"})
    marks = all_marks(student, cohort.camp)
    assert marks.days == (DAY1, DAY2)
    assert told(marks) == {
        "slide": [Mark.POSSIBLE, Mark.CANT_TELL],
        "sway": [Mark.DISMISSED, Mark.LIKELY],
    }


def test_a_word_in_an_answer_that_is_not_out_is_no_word_yet(
    student: User, cohort: Cohort, coach: User
) -> None:
    say(film(student, cohort, DAY1, {"sway": "likely"}), "sway", "agree", coach)
    assert told(all_marks(student, cohort.camp)) == {"sway": [Mark.LIKELY]}
    assert confirmed_marks(student, cohort.camp) == SignMarks((), ())


def test_of_one_day_the_strongest_mark_stands(student: User, cohort: Cohort, coach: User) -> None:
    film(student, cohort, DAY1, {"sway": "not_seen"})
    film(student, cohort, DAY1, {"sway": "likely"})
    film(student, cohort, DAY1, {"sway": "possible"})
    assert told(all_marks(student, cohort.camp)) == {"sway": [Mark.LIKELY]}


def test_what_was_taken_back_is_nobodys_to_see(student: User, cohort: Cohort) -> None:
    swing = film(student, cohort, DAY1, {"sway": "likely"})
    submission = swing.clip.submission
    assert submission is not None
    submission.state = "withdrawn"
    submission.save()
    assert all_marks(student, cohort.camp) == SignMarks((), ())


def test_every_mark_is_said_in_words() -> None:
    assert sorted(MARK_WORDS) == sorted(Mark)
    assert len(set(MARK_WORDS.values())) == len(Mark)
