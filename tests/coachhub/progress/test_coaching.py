from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from coachhub.camps.models import Cohort
from coachhub.feedback.models import Practice, Review
from coachhub.progress.domain.coaching import Coached, Kind, by_day, coached_days
from tests import factories

NOW = datetime(2026, 6, 20, 12, tzinfo=UTC)


@pytest.mark.unit
def test_a_days_deeds_share_one_number_in_the_order_of_a_day() -> None:
    first, second = date(2026, 6, 3), date(2026, 6, 9)
    deeds = [
        Coached(second, Kind.DRILL, "Brush"),
        Coached(first, Kind.DRILL, "Dips"),
        Coached(first, Kind.PRIORITY, "Ball first"),
    ]
    found = by_day(deeds)
    assert [(one.number, one.day, [deed.kind for deed in one.deeds]) for one in found] == [
        (1, first, [Kind.PRIORITY, Kind.DRILL]),
        (2, second, [Kind.DRILL]),
    ]


@pytest.mark.integration
@pytest.mark.django_db
class TestCoachedDays:
    @pytest.fixture
    def cohort(self, db: None) -> Cohort:
        return factories.make_cohort()

    def answer(self, cohort: Cohort, student: Any, day: int, **fields: Any) -> Review:
        at = datetime(2026, 6, day, 3, tzinfo=UTC)
        sent = factories.make_submission(student, cohort, range_day=at.date() - timedelta(days=1))
        out = {"state": "published", "published_at": at, "published_by": factories.make_user()}
        return factories.make_review(sent, **out, **fields)

    def told(self, cohort: Cohort, student: Any) -> list[tuple[int, str, str]]:
        days = coached_days(student, cohort.camp, now=NOW)
        return [(one.day.day, deed.kind, deed.told) for one in days for deed in one.deeds]

    def test_the_same_thing_is_set_once_and_the_same_drill_goes_on(self, cohort: Cohort) -> None:
        student = factories.make_student(cohort)
        brush, dips = factories.make_drill(name="Brush"), factories.make_drill(name="Dips")
        self.answer(cohort, student, 2, priority="Ball first.", drill=brush)
        self.answer(cohort, student, 8, priority="ball first", drill=brush)
        self.answer(cohort, student, 14, priority="Full finish", drill=dips)
        assert self.told(cohort, student) == [
            (2, Kind.PRIORITY, "Ball first."),
            (2, Kind.DRILL, "Brush"),
            (14, Kind.PRIORITY, "Full finish"),
            (14, Kind.DRILL, "Dips"),
            (14, Kind.DRILL_ENDED, "Brush"),
        ]

    def test_a_drill_that_hurt_has_its_day(self, cohort: Cohort) -> None:
        student = factories.make_student(cohort)
        review = self.answer(cohort, student, 2, drill=factories.make_drill(name="Brush"))
        Practice.objects.create(review=review, kind="hurts", on_day=date(2026, 6, 5), created_at=NOW)
        assert self.told(cohort, student) == [(2, Kind.DRILL, "Brush"), (5, Kind.DRILL_HURT, "Brush")]

    def test_an_answer_that_is_not_out_did_nothing_yet(self, cohort: Cohort) -> None:
        student = factories.make_student(cohort)
        factories.make_review(factories.make_submission(student, cohort), priority="Ball first")
        assert self.told(cohort, student) == []

    def test_days_are_the_camps_own(self, cohort: Cohort) -> None:
        """16:00 in Greenwich is past midnight in Tokyo, where the camp is."""
        student = factories.make_student(cohort)
        review = self.answer(cohort, student, 2, priority="Ball first")
        Review.objects.filter(pk=review.pk).update(published_at=datetime(2026, 6, 2, 16, tzinfo=UTC))
        assert self.told(cohort, student) == [(3, Kind.PRIORITY, "Ball first")]
