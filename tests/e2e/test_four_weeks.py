"""A whole camp of four weeks in real browsers: three students, one a minor with a guardian, two coaches, an organiser.

Everybody reads the letters that came, follows their links, presses what a page names. The database is looked at only.
"""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from coachhub.feedback.domain.library import load_library
from tests.e2e.conftest import OpenPage
from tests.e2e.four_weeks import before, second_half, weeks
from tests.e2e.four_weeks.clock import CampClock
from tests.e2e.four_weeks.letters import subjects
from tests.e2e.four_weeks.people import NAMES, Camp

pytestmark = [
    pytest.mark.e2e,
    pytest.mark.django_db(transaction=True),
    pytest.mark.usefixtures("work_at_once", "measured_once"),
]


def test_four_weeks_of_a_camp(open_page: OpenPage, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    began, clock = time.monotonic(), CampClock()
    clock.install(monkeypatch.setattr)
    load_library(now=clock.now())
    camp = Camp(open_page, clock)
    before_day_one(camp)
    first_half(camp, tmp_path)
    from_the_third_week(camp)
    letters = subjects()
    assert not [one for one in letters if any(name in one for name in NAMES.values())]
    print(
        f"\n{camp.journal.actions} deeds on {camp.journal.pages} pages of {len(camp.journal.kinds)} kinds and sizes, "
        f"{camp.journal.signed_in} times signed in, {len(letters)} letters, {time.monotonic() - began:.0f} s"
    )


def before_day_one(camp: Camp) -> None:
    before.begin(camp)
    before.make_the_camp(camp["runa"])
    before.plan_the_weeks(camp["runa"])
    before.invite_coaches(camp)
    before.invite_students_by_list(camp)
    before.bring_everybody_in(camp)
    weeks.baseline(camp)
    before.see_who_is_missing(camp)
    weeks.remind(camp)


def first_half(camp: Camp, folder: Path) -> None:
    weeks.first_answer(camp)
    weeks.question_to_a_minor(camp)
    weeks.latecomer_in_pain(camp)
    weeks.practice(camp)
    weeks.film_again(camp, folder)
    weeks.a_drill_hurts(camp)
    weeks.work_changes_hands(camp)
    weeks.pain_is_answered(camp)


def from_the_third_week(camp: Camp) -> None:
    second_half.a_case_and_its_end(camp)
    second_half.a_concern(camp)
    second_half.pause_and_return(camp)
    second_half.last_week(camp)
    second_half.last_day(camp)
    second_half.the_end(camp)
