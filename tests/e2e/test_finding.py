"""One idea from question to change: a right-handed student's pull with a hybrid, who tries to help the ball up."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from coachhub.accounts.models import User
from coachhub.camps.enums import Role
from coachhub.camps.models import Cohort, Membership
from coachhub.feedback.domain.clock import start_clock
from coachhub.feedback.domain.reviews import claim_review
from coachhub.feedback.models import Finding, FindingVersion, Observation, Question, Review, SayBack
from coachhub.swings.models import SignFlag
from tests import factories
from tests.e2e.axe import serious_findings
from tests.e2e.clips import give_picture, give_tracks
from tests.e2e.conftest import PHONE, OpenPage
from tests.e2e.desk_scene import readout

pytestmark = [
    pytest.mark.e2e,
    pytest.mark.django_db(transaction=True),
    pytest.mark.usefixtures("work_at_once"),
]

METRIC = "arm_shaft_lead_arm_parallel_down"
LIFT = "the ball has to be helped up"


@dataclass(frozen=True)
class People:
    cohort: Cohort
    coach: User
    student: User


def people() -> People:
    cohort = factories.make_cohort()
    coach = factories.make_user("Ines Falk")
    factories.join(coach, cohort, Role.COACH)
    return People(cohort, coach, factories.make_student(cohort, "Tomi Aalto", pain="none"))


def session(who: People, values: list[float], day: date, **fields: Any) -> Review:
    """A range session with a hybrid: one clip, each of its swings with one measured number."""
    submission = factories.make_submission(
        who.student, who.cohort, club_class="hybrid", range_day=day, created_at=timezone.now(), **fields
    )
    clip = factories.make_clip(submission)
    times = give_picture(clip)
    for value in values:
        data = readout()
        data["metrics"] = {
            METRIC: {"value": value, "se": 2.0, "unit": "deg", "at": ["lead_arm_parallel_down"]}
        }
        swing = factories.make_swing(clip, data=data)
        give_tracks(swing, times)
        SignFlag.objects.create(
            readout=swing.readouts.get(), sign="early_release", level="likely", probability=0.86
        )
    review = factories.make_review(submission, created_at=timezone.now())
    start_clock(review, now=timezone.now())
    return review


def at_the_desk(open_page: OpenPage, who: People, review: Review) -> Page:
    page = open_page(who.coach, f"/coach/desk/{review.public_id}/")
    if page.get_by_role("button", name="Start reviewing").count():
        page.get_by_role("button", name="Start reviewing").click()
    expect(page.locator("[data-part=now]")).to_have_text(re.compile("^Frame"))
    return page


def agree(page: Page) -> None:
    card = page.locator("[data-card]:not([hidden])")
    expect(card).to_have_count(1)
    card.get_by_role("button", name="Agree: early release").click()


def publish(page: Page) -> None:
    page.get_by_role("button", name="Look over and publish").click()
    expect(page.get_by_role("heading", name=re.compile("will see$"))).to_be_visible()
    assert serious_findings(page) == []
    page.get_by_role("button", name="Publish", exact=True).click()
    expect(page.get_by_text("Published.")).to_be_visible()


def test_from_a_question_to_a_changed_idea(open_page: OpenPage) -> None:
    who = people()
    first = session(
        who,
        [140.0, 141.0, 139.0],
        date(2026, 6, 9),
        miss_start="left",
        miss_curve="none",
        intents=["bel_lift"],
    )
    _judged_seen_and_asked(open_page, who, first)
    _answered(open_page, who)
    _found_and_published(open_page, who, first)
    _said_back(open_page, who, first)
    _understood(open_page, who, first)
    second = session(
        who,
        [105.0, 106.0, 104.0],
        date(2026, 6, 16),
        miss_start="straight",
        miss_curve="none",
        intents=["nothing"],
    )
    _asked_again(open_page, who, second)
    _on_one_time_line(open_page, who)


def _judged_seen_and_asked(open_page: OpenPage, who: People, review: Review) -> None:
    page = at_the_desk(open_page, who, review)
    panel = page.locator("[data-part=reasoning]")
    expect(panel.locator(".path h3").first).to_contain_text(LIFT.capitalize(), ignore_case=True)
    agree(page)
    expect(panel.get_by_text("confirmed by the coach").first).to_be_visible()
    page.locator("[data-part=stage]").focus()
    page.keyboard.press("i")
    page.keyboard.press("1")
    expect(panel.locator(".seen")).to_contain_text("Lead wrist at impact: cupped")
    seen = Observation.objects.get()
    assert (seen.look, seen.value) == ("wrist_impact", "cupped") and seen.swing is not None
    assert seen.at_us is not None
    panel.locator(".eye summary").click()
    assert serious_findings(page) == []
    panel.get_by_role("button", name=re.compile("^Ask and wait: With")).first.click()
    expect(page.get_by_text("Asked. The promise stands still")).to_be_visible()
    question = Question.objects.get()
    review.refresh_from_db()
    assert (question.node, review.due_at) == ("bel_lift", None)


def _answered(open_page: OpenPage, who: People) -> None:
    page = open_page(who.student, "/my/", size=PHONE, has_touch=True)
    page.get_by_role("link", name="Read and reply").click()
    assert serious_findings(page) == []
    page.get_by_label("In your own words").fill("Up, of course, it has to fly")
    page.get_by_text("Choose instead, or as well").click()
    page.get_by_label("help the ball up into the air").check()
    page.get_by_role("button", name="Answer", exact=True).click()
    expect(page.get_by_text("Answered. Your coach goes on now.")).to_be_visible()
    assert Question.objects.get().chosen == ["bel_lift"]


def _found_and_published(open_page: OpenPage, who: People, review: Review) -> None:
    page = at_the_desk(open_page, who, review)
    expect(page.locator(".asked")).to_contain_text("Up, of course")
    page.locator("[data-part=stage]").focus()
    page.keyboard.press("1")
    expect(page.locator("#answer-root_node")).to_have_value("bel_lift")
    expect(page.locator("#answer-root_kind")).to_have_value("idea")
    expect(page.get_by_label("The better idea")).to_have_value(re.compile("the loft of an iron or a hybrid"))
    page.get_by_role("button", name="Shown one: Frame that shows it").click()
    page.locator("#answer-own_at").select_option(index=6)
    page.locator("#answer-confidence").select_option("likely")
    page.get_by_label("The one thing to work on").fill("Turf after the ball")
    page.get_by_label("Keep", exact=True).fill("Your tempo")
    publish(page)
    version = FindingVersion.objects.get()
    assert (version.place, version.was_edited, version.root_node) == (1, False, "bel_lift")
    assert version.frames["mechanism"]["at_us"] >= 0 and version.links[0]["grade"] == "C"


def _said_back(open_page: OpenPage, who: People, review: Review) -> None:
    page = open_page(who.student, f"/my/answers/{review.public_id}/", size=PHONE, has_touch=True)
    chain = page.locator(".chain")
    expect(chain).to_contain_text("wrist angle opens too early")
    expect(chain).to_contain_text(LIFT)
    for heading in ("One thing", "Keep this", "A better idea", "Say it back"):
        expect(page.get_by_role("heading", name=re.compile(heading, re.IGNORECASE)).first).to_be_visible()
    assert serious_findings(page) == []
    box = page.get_by_label("In your own words: what makes the ball go up?")
    box.fill("The loft, when I hit the ball before the turf")
    page.get_by_role("button", name="Send it to my coach").click()
    expect(page.get_by_text("your coach will read it")).to_be_visible()


def _understood(open_page: OpenPage, who: People, review: Review) -> None:
    page = open_page(who.coach, f"/coach/desk/{review.public_id}/")
    expect(page.get_by_text("The loft, when I hit the ball before the turf")).to_be_visible()
    page.get_by_role("button", name="Understood", exact=True).click()
    expect(page.get_by_text("Noted: understood.")).to_be_visible()
    assert SayBack.objects.get().grasp == "understood"
    assert serious_findings(page) == []


def _asked_again(open_page: OpenPage, who: People, review: Review) -> None:
    page = at_the_desk(open_page, who, review)
    expect(page.get_by_role("heading", name=re.compile("still so\\?"))).to_be_visible()
    expect(page.locator(".old-idea")).to_have_count(0)
    page.get_by_role("button", name="Still so").click()
    expect(page.get_by_text("Noted: still so.")).to_be_visible()
    page.get_by_role("button", name="Gone", exact=True).click()
    expect(page.get_by_text("Noted: gone.")).to_be_visible()
    assert Finding.objects.get(review=review).root_node == "bel_lift"
    agree(page)
    expect(page.get_by_text("confirmed by the coach").first).to_be_visible()
    page.get_by_label("The one thing to work on").fill("Leave it so")
    publish(page)
    assert FindingVersion.objects.count() == 2


def _on_one_time_line(open_page: OpenPage, who: People) -> None:
    place = Membership.objects.get(user=who.student)
    page = open_page(who.coach, f"/coach/students/{place.public_id}/course/")
    strands = page.locator(".strands")
    expect(strands).to_contain_text("aid back and understood")
    expect(strands).to_contain_text("not chosen any more since 16 June")
    expect(strands).to_contain_text("hanged by -35")
    expect(strands).to_contain_text("reported differently", ignore_case=True)
    assert serious_findings(page) == []
    page = open_page(who.student, "/my/findings/", size=PHONE, has_touch=True)
    expect(page.locator(".past").last.get_by_text("gone", exact=True)).to_be_visible()
    assert serious_findings(page) == []


def test_a_camp_teaches_many_at_once_and_changes_its_map(open_page: OpenPage) -> None:
    who = people()
    review = claim_review(session(who, [140.0], date(2026, 6, 9)), by=who.coach, now=timezone.now())
    Finding.objects.create(review=review, root_kind="idea", root_node="bel_lift", mechanism_node="im_scoop")
    page = at_the_desk(open_page, who, review)
    page.get_by_label("The one thing to work on").fill("Turf after the ball")
    publish(page)
    camp = who.cohort.camp.public_id
    page = open_page(who.coach, f"/coach/camps/{camp}/findings/")
    assert serious_findings(page) == []
    page.get_by_role("link", name=re.compile("Write one: a lesson for .*helped up")).click()
    assert serious_findings(page) == []
    page.get_by_label("Your words").fill("The loft lifts the ball.")
    page.get_by_role("button", name="Send it to 1").click()
    expect(page.get_by_text("Sent to 1 student")).to_be_visible()
    page.get_by_role("link", name="The cause map of this camp").click()
    page.get_by_role("button", name=re.compile("^Switch off: .*helped up.* to wrist angle")).click()
    expect(page.get_by_text("Version 1 of the camp's map")).to_be_visible()
    expect(page.get_by_role("button", name=re.compile("^Switch on"))).to_have_count(1)
    assert serious_findings(page) == []
    page = open_page(who.student, f"/my/thread/{who.student.threads.get().public_id}/", size=PHONE)
    expect(page.get_by_text("The loft lifts the ball.")).to_be_visible()
