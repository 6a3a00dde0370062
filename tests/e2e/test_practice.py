"""A drill's way in a real browser: the coach makes it, the student practises in two taps, it hurts, all see it."""

from __future__ import annotations

import os
from datetime import timedelta
from pathlib import Path

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from coachhub.feedback.domain.library import load_library
from coachhub.feedback.domain.threads import post_feedback
from coachhub.feedback.enums import PracticeKind, ReviewState
from coachhub.feedback.models import Drill, Practice, Review
from coachhub.videos.enums import SubmissionState
from tests import factories
from tests.cast import make_cast
from tests.e2e.axe import serious_findings
from tests.e2e.conftest import PHONE, OpenPage

pytestmark = [pytest.mark.e2e, pytest.mark.django_db(transaction=True)]

PICTURES = os.environ.get("PRACTICE_PICTURES", "")


def looked_at(page: Page, name: str) -> None:
    assert serious_findings(page) == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    if PICTURES:
        page.screenshot(path=str(Path(PICTURES) / f"{name}.png"), full_page=True)


def test_a_drills_way(open_page: OpenPage) -> None:
    cast, now = make_cast(), timezone.now()
    load_library(now=now)
    coach = open_page(cast.coach, f"/coach/camps/{cast.camp.public_id}/drills/")
    expect(coach.get_by_role("img", name="Count two to three knuckles")).to_be_visible()
    looked_at(coach, "drills")
    coach.get_by_role("link", name="Make a drill").click()
    for label, words in {
        "Name": "Broom handle",
        "How it is done": "Swing a broom handle slowly past the doormat.",
        "The cue": "brush the doormat",
        "How much": "3 sets of 8",
        "How often": "3 times a week",
        "When it goes well, then": "with a club",
        "When to stop": "stop at any pain",
    }.items():
        coach.get_by_label(label, exact=True).fill(words)
    coach.get_by_label("Drawing").select_option("rails")
    looked_at(coach, "drill-form")
    coach.get_by_role("button", name="Keep it").click()
    expect(coach.get_by_role("heading", name="Broom handle")).to_be_visible()

    own = Drill.objects.get(camp=cast.camp)
    sent = factories.make_submission(cast.student, cast.cohort, state=SubmissionState.ANSWERED)
    review = factories.make_review(
        sent,
        state=ReviewState.PUBLISHED,
        published_at=now - timedelta(days=9),
        published_by=cast.coach,
        priority="Meet the turf past the ball",
        drill=own,
    )
    post_feedback(review, by=cast.coach, text="x", now=now - timedelta(days=9))

    phone = open_page(cast.student, "/my/", size=PHONE)
    phone.get_by_text("I practised").click()
    looked_at(phone, "home-open")
    phone.get_by_role("button", name="40", exact=True).click()
    expect(phone.get_by_text("1 of 3 days this week")).to_be_visible()
    assert Practice.objects.get(review=review).balls == 40
    phone.get_by_role("link", name="How the drill goes, and all my practice").click()
    expect(phone.get_by_role("img", name="Swing a broom handle")).to_be_visible()
    looked_at(phone, "practice")
    phone.get_by_text("This hurts", exact=True).click()
    phone.get_by_role("button", name="Tell my coach that it hurts").click()
    expect(phone.get_by_text("Stopped: you said that this hurts.")).to_be_visible()
    expect(phone.get_by_text("I practised")).to_have_count(0)
    looked_at(phone, "stopped")
    assert Practice.objects.filter(review=review, kind=PracticeKind.HURTS).count() == 1
    assert Review.objects.get(pk=review.pk).has_pain

    place = cast.student.memberships.get(cohort=cast.cohort)
    coach.goto(coach.url.split("/coach/")[0] + f"/coach/students/{place.public_id}/")
    expect(coach.get_by_text("stopped: it hurts")).to_be_visible()
    coach.get_by_label("Something else to work on later").fill("a fuller finish")
    coach.get_by_role("button", name="Keep it for later").click()
    expect(coach.get_by_text("a fuller finish")).to_be_visible()
    looked_at(coach, "student")
    organiser = open_page(cast.organiser, f"/organiser/cohort/{cast.cohort.public_id}/practice/")
    expect(organiser.get_by_text("it hurts, stopped")).to_be_visible()
    looked_at(organiser, "organiser")
