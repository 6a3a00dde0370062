"""The steps of a student's story that need no measured clip: findings, what became of them, an idea said back."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from django.utils import timezone

from coachhub.feedback.domain.library import load_library
from coachhub.feedback.domain.versions import history
from coachhub.feedback.models import IdeaChange, Review, SayBack
from coachhub.progress.demo import scenario, story
from tests import factories

pytestmark = [pytest.mark.integration, pytest.mark.django_db]


def test_an_idea_is_found_said_back_confirmed_and_gone() -> None:
    told = scenario.read(scenario.STORY)
    student = next(one for one in told.students if one.key == "mirela")
    load_library(now=timezone.now())
    cohort = factories.make_cohort()
    people = {"mirela": factories.make_student(cohort, "Mirela"), "tamsin": factories.make_user("Tamsin")}
    factories.join(people["tamsin"], cohort, "coach")
    calendar = scenario.Calendar(date(2026, 6, 28), cohort.camp.zone)
    stage = story.Stage(told, cohort.camp, calendar, people)
    for step in student.story:
        if step["do"] == "send":
            sent(step, people["mirela"], cohort)
        elif step["do"] in ("answer", "say_back"):
            play(stage, student, step)
            play(stage, student, step)
    assert [past.fate for past in history(people["mirela"], cohort.camp)] == ["confirmed", "resolved", ""]
    assert SayBack.objects.get().grasp == "understood"
    changed = IdeaChange.objects.order_by("pk").values_list("review__submission__public_id", flat=True)
    assert list(changed) == [scenario.submission_id("mirela-1"), scenario.submission_id("mirela-2")]


def sent(step: dict[str, Any], student: Any, cohort: Any) -> Review:
    submission = factories.make_submission(
        student,
        cohort,
        public_id=scenario.submission_id(step["id"]),
        club_class=step["club_class"],
        miss_start=step["miss_start"],
        intents=step["intents"],
    )
    factories.make_swing(factories.make_clip(submission))
    return factories.make_review(submission)


def play(stage: story.Stage, student: Any, step: dict[str, Any]) -> None:
    story.PLAYERS[step["do"]](stage, student, step)
