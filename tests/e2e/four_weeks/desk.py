"""At the review desk: take one, agree with a sign, go from the miss to the root, give one thing to do, publish."""

from __future__ import annotations

import re
from dataclasses import dataclass

from playwright.sync_api import Page, expect

from tests.e2e.four_weeks.visitor import Visitor

FIRST_FRAME_WITHIN_MS = 20_000


@dataclass(frozen=True)
class Answer:
    """What a coach gives: what to keep, one thing, its cue, one drill with its dose."""

    keep: str
    priority: str
    cue: str
    drill: str = ""
    dose: str = ""
    words: str = "Look at the picture first."


def queue(coach: Visitor) -> list[str]:
    """Names in the order in which they wait."""
    coach.visit("/coach/")
    return [name.strip() for name in coach.page.locator(".work h2").all_inner_texts()]


def take(coach: Visitor, student: str) -> None:
    coach.visit("/coach/")
    coach.press(re.compile(f"^(Review|Go on) {student}$"), exact=False)
    sees_the_swing(coach.page)


def read_reply(coach: Visitor, student: str) -> None:
    """What was answered waits again when a student writes, or says that a drill hurts."""
    coach.visit("/coach/")
    work = coach.page.locator(".work", has=coach.page.get_by_role("heading", name=student))
    coach.follow("Read the reply", within=work)


def sees_the_swing(page: Page) -> None:
    shown = page.locator("[data-part=now]")
    expect(shown).to_have_text(re.compile("^Frame"), timeout=FIRST_FRAME_WITHIN_MS)


def agree(coach: Visitor, sign: str) -> None:
    button = coach.page.get_by_role("button", name=f"Agree: {sign}").first
    with coach.page.expect_response("**/judge/"):
        button.click()
    expect(button).to_have_attribute("aria-pressed", "true")
    coach.journal.actions += 1


def take_first_path(coach: Visitor) -> None:
    """The way from the miss to the root that ranks first: the coach's own choice from here on."""
    panel = coach.page.locator("[data-part=reasoning]")
    expect(panel.locator(".path").first).to_be_visible()
    coach.press(re.compile("^Take: "), within=panel.locator(".path").first, exact=False)
    expect(coach.page.locator("#answer-root_node")).not_to_have_value("")
    coach.page.get_by_label("How sure you are").first.select_option("likely")
    coach.journal.actions += 1


def write(coach: Visitor, answer: Answer) -> None:
    form = coach.page.locator("[data-part=answer]")
    for name in ("keep", "priority", "cue", "words"):
        form.locator(f"[name={name}]").fill(getattr(answer, name))
        coach.journal.actions += 1
    if answer.drill:
        coach.page.get_by_label("Drill", exact=True).select_option(_option(coach, answer.drill))
        form.locator("[name=dose]").fill(answer.dose)
        coach.journal.actions += 2
    expect(coach.page.locator("[data-part=saved]")).to_contain_text("Saved")


def publish(coach: Visitor, student: str) -> None:
    coach.press("Look over and publish")
    coach.page.wait_for_url("**/check/")
    coach.looked()
    expect(coach.page.get_by_role("heading", level=1)).to_have_text(f"What {student} will see")
    coach.press("Publish")
    expect(coach.page.get_by_text("Published.")).to_be_visible()


def ask_first(coach: Visitor, question: str) -> None:
    box = coach.page.locator("details.ask")
    if not box.evaluate("one => one.open"):
        coach.unfold("Ask the student first")
    coach.fill("Question", question, within=box)
    coach.press("Ask and wait", within=box)
    expect(coach.page.get_by_text("Asked. The promise stands still")).to_be_visible()


def _option(coach: Visitor, words: str) -> str:
    options = coach.page.get_by_label("Drill", exact=True).locator("option", has_text=words)
    return options.first.get_attribute("value") or ""
