from __future__ import annotations

from datetime import date, timedelta

import pytest

from coachhub.camps.models import Cohort
from coachhub.feedback.models import FindingVersion, FindingWord
from coachhub.progress.domain.held import (
    HELD_DAYS,
    Answer,
    Standing,
    Streak,
    held_priorities,
    numbers_of,
    standing_of,
    streak_of,
)
from coachhub.progress.domain.judged import answered, judged_submissions
from coachhub.progress.domain.noise import mean_of
from coachhub.progress.domain.trends import Point, Trend
from tests import factories

FIRST = date(2026, 6, 1)


def day(number: int) -> date:
    return FIRST + timedelta(days=number)


def said(*answers: tuple[str, str] | tuple[str, str, bool]) -> Streak | None:
    return streak_of(
        Answer(1, day(number), one[0], one[1], is_resolved=len(one) > 2) for number, one in enumerate(answers)
    )


def trend(*days: tuple[int, list[float]], metric: str = "tilt") -> Trend:
    points = [Point(day(at), mean_of(found, [0.5] * len(found)), tuple(found)) for at, found in days]
    return Trend(metric, "deg", "face_on", "iron", 60, points)


@pytest.mark.unit
class TestStreak:
    def test_the_same_words_or_the_same_mechanism_go_on(self) -> None:
        streak = said(("Ball first.", "early"), ("ball  first", ""), ("Keep the angle", "early"))
        assert streak == Streak("Keep the angle", "early", (day(0), day(1), day(2)))

    def test_another_thing_begins_anew(self) -> None:
        assert said(("Ball first", "early"), ("Full finish", "stall")) == Streak(
            "Full finish", "stall", (day(1),)
        )

    def test_an_answer_without_words_leaves_the_thing_open(self) -> None:
        streak = said(("Ball first", "early"), ("", ""))
        assert streak is not None
        assert streak.days == (day(0), day(1))
        assert streak.priority == "Ball first"

    def test_nothing_asked_is_no_streak(self) -> None:
        assert said(("", ""), (" ", "")) is None

    def test_a_finding_called_gone_ends_it(self) -> None:
        assert said(("Ball first", "early"), ("Ball first", "early", True)) is None
        assert said(("Ball first", "early", True), ("Ball first", "early")) == Streak(
            "Ball first", "early", (day(1),)
        )

    def test_two_answers_of_one_day_are_one_day(self) -> None:
        streak = streak_of([Answer(1, FIRST, "Ball first", ""), Answer(1, FIRST, "Ball first", "")])
        assert streak is not None
        assert streak.days == (FIRST,)


@pytest.mark.unit
class TestStanding:
    streak = Streak("Ball first", "", (day(5), day(10), day(15)))

    def test_within_the_noise_is_stuck(self) -> None:
        found = trend((5, [10, 11, 12]), (15, [10.5, 11.5, 12.5]))
        assert standing_of(self.streak, {"tilt"}, [found]) == Standing.STUCK

    def test_beyond_the_noise_is_not(self) -> None:
        found = trend((5, [10, 11, 12]), (15, [40, 41, 42]))
        assert standing_of(self.streak, {"tilt"}, [found]) == Standing.MOVED

    def test_what_moved_before_the_streak_does_not_count(self) -> None:
        found = trend((0, [80, 81, 82]), (5, [10, 11, 12]), (15, [10, 11, 12]))
        assert standing_of(self.streak, {"tilt"}, [found]) == Standing.STUCK

    def test_nor_does_another_number(self) -> None:
        found = trend((5, [10, 11, 12]), (15, [40, 41, 42]), metric="lag")
        assert standing_of(self.streak, {"tilt"}, [found]) == Standing.UNTOLD

    def test_with_too_few_swings_it_cannot_be_told(self) -> None:
        found = trend((5, [10, 11, 12]), (15, [40, 41]))
        assert standing_of(self.streak, {"tilt"}, [found]) == Standing.UNTOLD

    def test_the_numbers_are_those_of_the_findings_own_sign(self) -> None:
        own = numbers_of(Streak("", "ds_early_release", (FIRST,)), {"sway"})
        assert own == numbers_of(Streak("", "", (FIRST,)), {"early_release"})
        assert own
        assert own != numbers_of(Streak("", "", (FIRST,)), {"sway"})


@pytest.mark.integration
@pytest.mark.django_db
class TestHeld:
    def held(self, cohort: Cohort) -> list[tuple[str, int, str]]:
        out = answered(cohort.camp, [cohort])
        judged = judged_submissions(cohort.camp, out)
        found = held_priorities(cohort.camp, [cohort], out.order_by(), judged, {})
        return [(one.name, one.sessions, one.standing) for one in found]

    def ask(self, cohort: Cohort, name: str, days: int) -> list[FindingVersion]:
        student, coach = factories.make_student(cohort, name), factories.make_user()
        versions = []
        for number in range(days):
            sent = factories.make_submission(student, cohort, range_day=day(number))
            out = {"state": "published", "published_at": factories.NOW, "published_by": coach}
            review = factories.make_review(sent, priority="Ball first", **out)
            versions.append(
                FindingVersion.objects.create(
                    review=review,
                    number=1,
                    by=coach,
                    mechanism_node="ds_early_release",
                    created_at=factories.NOW,
                )
            )
        return versions

    def test_by_name_from_three_days_on(self) -> None:
        cohort = factories.make_cohort()
        self.ask(cohort, "Zeno", HELD_DAYS)
        self.ask(cohort, "Ada", HELD_DAYS + 1)
        self.ask(cohort, "Mia", HELD_DAYS - 1)
        assert self.held(cohort) == [("Ada", 4, Standing.UNTOLD), ("Zeno", 3, Standing.UNTOLD)]

    def test_a_coachs_word_that_it_has_gone_ends_it(self) -> None:
        cohort = factories.make_cohort()
        versions = self.ask(cohort, "Zeno", HELD_DAYS + 1)
        FindingWord.objects.create(
            version=versions[0],
            review=versions[1].review,
            fate="resolved",
            by=versions[0].by,
            created_at=factories.NOW,
        )
        assert self.held(cohort) == [("Zeno", 3, Standing.UNTOLD)]
