from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from coachhub.accounts.models import User
from coachhub.camps.models import Cohort
from coachhub.progress.domain.first_latest import Pair, first_and_latest, most_usual
from tests import factories
from tests.factories import NOW

DAY1, DAY2, DAY3 = date(2026, 6, 2), date(2026, 6, 9), date(2026, 6, 16)


@pytest.mark.unit
class TestMostUsual:
    def test_the_one_in_the_middle(self) -> None:
        assert most_usual([{"a": 10.0}, {"a": 30.0}, {"a": 19.0}]) == 2

    def test_each_number_counts_in_units_of_its_own_spread(self) -> None:
        """By hand: squares of the distances over their sum are .41 .02 .57 for a and .17 .67 .17 for b."""
        swings = [{"a": 0.0, "b": 0.0}, {"a": 1000.0, "b": 3.0}, {"a": 2500.0, "b": 0.0}]
        assert most_usual(swings) == 0

    def test_a_number_that_one_swing_lacks_says_nothing(self) -> None:
        assert most_usual([{"a": 10.0, "b": 99.0}, {"a": 20.0}, {"a": 30.0, "b": 98.0}]) == 1

    def test_of_equals_the_first(self) -> None:
        assert most_usual([{"a": 1.0}, {"a": 3.0}]) == 0
        assert most_usual([{}, {}]) == 0

    def test_of_none_there_is_none(self) -> None:
        with pytest.raises(ValueError, match="swings"):
            most_usual([])


@pytest.mark.integration
@pytest.mark.django_db
class TestFirstAndLatest:
    @pytest.fixture
    def cohort(self, db: None) -> Cohort:
        return factories.make_cohort()

    @pytest.fixture
    def student(self, cohort: Cohort) -> User:
        return factories.make_student(cohort)

    def film(
        self, student: User, cohort: Cohort, day: date, values: list[float], *, club: str = "iron", **how: Any
    ) -> None:
        is_out = how.pop("is_out", True)
        sent = factories.make_submission(student, cohort, range_day=day, club_class=club)
        clip = factories.make_clip(sent)
        for value in values:
            metrics = {
                "tilt": {"value": value, "se": 1.0, "unit": "deg"},
                "lag": {"value": 2 * value, "se": 1.0, "unit": "deg"},
                "tempo_ratio": {"reason": "too slow", "unit": "ratio"},
            }
            factories.make_swing(clip, data=factories.readout_data({}) | {"metrics": metrics} | how)
        out = {"state": "published", "published_at": NOW, "published_by": student} if is_out else {}
        factories.make_review(sent, **out)

    def pairs(
        self, student: User, cohort: Cohort, metrics: Any = frozenset({"tilt"}), **asked: Any
    ) -> list[Pair]:
        return first_and_latest(student, cohort.camp, metrics, **asked)

    def test_the_first_and_the_latest_full_day(self, student: User, cohort: Cohort) -> None:
        self.film(student, cohort, DAY1, [10, 11, 12])
        self.film(student, cohort, DAY2, [40, 41, 43])
        self.film(student, cohort, DAY3, [90])
        (pair,) = self.pairs(student, cohort)
        assert (pair.first.day, pair.first.swings, pair.latest.day, pair.latest.swings) == (DAY1, 3, DAY2, 3)
        assert pair.key == "face_on.iron.60"
        assert [(change.metric, change.verdict) for change in pair.changes] == [("tilt", "changed")]
        # Of each day the swing nearest to its mean.
        shown = [side.readout.data["metrics"]["tilt"]["value"] for side in (pair.first, pair.latest)]
        assert shown == [11, 41]

    def test_without_two_full_days_nothing_is_called_a_change(self, student: User, cohort: Cohort) -> None:
        self.film(student, cohort, DAY1, [10, 11])
        self.film(student, cohort, DAY3, [90])
        (pair,) = self.pairs(student, cohort)
        assert (pair.first.day, pair.latest.day) == (DAY1, DAY3)
        assert [change.verdict for change in pair.changes] == ["one_swing"]

    def test_only_like_stands_beside_like(self, student: User, cohort: Cohort) -> None:
        self.film(student, cohort, DAY1, [10])
        self.film(student, cohort, DAY2, [10], club="driver")
        self.film(student, cohort, DAY2, [10], view="dtl")
        self.film(student, cohort, DAY2, [10], fps=240.0)
        assert self.pairs(student, cohort) == []

    def test_only_the_numbers_asked_for(self, student: User, cohort: Cohort) -> None:
        self.film(student, cohort, DAY1, [10])
        self.film(student, cohort, DAY2, [10])
        assert [change.metric for pair in self.pairs(student, cohort, None) for change in pair.changes] == [
            "lag",
            "tilt",
        ]
        assert [pair.changes for pair in self.pairs(student, cohort, set())] == [()]

    def test_what_is_not_answered_is_for_staff(self, student: User, cohort: Cohort) -> None:
        self.film(student, cohort, DAY1, [10])
        self.film(student, cohort, DAY2, [10], is_out=False)
        assert self.pairs(student, cohort) == []
        assert len(self.pairs(student, cohort, only_published=False)) == 1

    def test_a_readout_that_says_no_rate_is_left_out(self, student: User, cohort: Cohort) -> None:
        self.film(student, cohort, DAY1, [10])
        self.film(student, cohort, DAY2, [10], fps=0)
        assert self.pairs(student, cohort) == []

    def test_one_query_however_many(
        self, student: User, cohort: Cohort, django_assert_num_queries: Any
    ) -> None:
        for day in (DAY1, DAY2, DAY3):
            self.film(student, cohort, day, [10, 11, 12])
            with django_assert_num_queries(1):
                self.pairs(student, cohort)
