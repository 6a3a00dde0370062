"""A site with real processes, its people, and what each does in a browser on the whole way of one swing."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, BrowserContext, Page, Route, expect

from coachhub.bootstrap import layout
from tests.stack import Stack

CLIP = layout.ROOT / "fixtures" / "clips" / "fo_early.mp4"
PASSWORD = "larks-over-links-9"
STUDENT = "odalys.brandvold@example.org"
PHONE: dict[str, Any] = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
DESKTOP: dict[str, Any] = {"viewport": {"width": 1280, "height": 800}}
MEASURED_WITHIN_MS = 240_000

SEED = f"""
from datetime import timedelta
from django.utils import timezone
from coachhub.accounts.domain.people import register
from coachhub.camps.domain.camps import CampPlan, make_camp, make_cohort
from coachhub.camps.domain.invitations import accept, invite, token_of
from coachhub.feedback.domain.library import load_library
now = timezone.now()
people = {{"password": {PASSWORD!r}, "time_zone": "Europe/Lisbon", "now": now}}
organiser = register("ylva.organiser@example.org", name="Ylva Tordesil", **people)
coach = register("piet.coach@example.org", name="Piet Amadio", **people)
today = now.date()
plan = CampPlan("Kestrel Links", today - timedelta(days=3), today + timedelta(days=24), "Europe/Lisbon", [7])
camp = make_camp(plan, by=organiser, now=now)
cohort = make_cohort(camp, "Blue tees", by=organiser, now=now)
accept(token_of(invite(cohort, role="coach", by=organiser, now=now)), coach, now=now)
load_library(now=now)
answer = {{"token": token_of(invite(cohort, by=organiser, now=now)), "camp": str(camp.public_id)}}
"""


@dataclass
class Site:
    """One running site and a browser to look at it with; each person has an own browser profile."""

    stack: Stack
    browser: Browser
    url: str
    seeded: dict[str, str]

    @classmethod
    def start(cls, stack: Stack, browser: Browser) -> Site:
        seeded = stack.python(SEED)
        stack.worker()
        stack.beat()
        _, port = stack.web()
        return cls(stack, browser, f"http://127.0.0.1:{port}", seeded)

    def visitor(self, screen: dict[str, Any]) -> BrowserContext:
        return self.browser.new_context(base_url=self.url, locale="en-GB", **screen)

    def signed_in(self, email: str, screen: dict[str, Any], *, password: str = PASSWORD) -> Page:
        page = self.visitor(screen).new_page()
        page.goto("/account/sign-in/")
        page.get_by_label("E-mail").fill(email)
        page.get_by_label("Password").fill(password)
        page.get_by_role("button", name="Sign in").click()
        expect(page.get_by_role("heading", level=1)).not_to_have_text("Sign in")
        return page


def join_and_answer(site: Site) -> Page:
    """By the invitation's link to an account, and through the intake."""
    page = site.visitor(PHONE).new_page()
    page.goto(f"/account/join/{site.seeded['token']}/")
    page.get_by_label("E-mail").fill(STUDENT)
    page.get_by_label("name", exact=False).first.fill("Odalys Brandvold")
    page.get_by_label("Password", exact=False).first.fill(PASSWORD)
    page.get_by_label("I am 18 or older").check()
    page.get_by_role("button", name="Make my account and join").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Before your first swing")
    for choice in (
        "40 to 59",
        "right-handed",
        "handicap 10 to 20",
        "no pain",
        "help the ball up into the air",
    ):
        page.get_by_label(choice, exact=True).first.check()
    page.get_by_label("I agree that my videos").check()
    page.get_by_label("I agree that my camp's coaches").check()
    page.get_by_role("button", name="Save my answers").click()
    expect(page.get_by_role("link", name="Send new swings")).to_be_visible()
    return page


def describe_session(page: Page) -> str:
    """The questions of a new submission; returns its address."""
    page.get_by_role("link", name="Send new swings").click()
    page.get_by_label("iron", exact=True).check()
    page.get_by_label("starts left", exact=True).check()
    page.get_by_label("fat: ground before ball", exact=True).check()
    page.get_by_role("group", name="Does anything hurt today?").get_by_label("No", exact=True).check()
    page.get_by_role("button", name="Go on to the clips").click()
    expect(page.get_by_role("heading", name="Add clips")).to_be_visible()
    return page.url


class CutLine:
    """Lets the first piece of an upload through and then takes the network away in the middle of the next."""

    def __init__(self, context: BrowserContext) -> None:
        self.context = context
        self.offsets: list[int] = []
        self.is_cut = False
        context.route("**/uploads/**", self.handle)

    def handle(self, route: Route) -> None:
        request = route.request
        if request.method != "PATCH":
            route.continue_()
            return
        self.offsets.append(int(request.headers["upload-offset"]))
        if len(self.offsets) == 2 and not self.is_cut:
            self.is_cut = True
            route.abort("connectionreset")
            return
        route.continue_()


def upload_with_a_cut(page: Page, clip: Path, where: str) -> tuple[Page, list[int]]:
    """The line breaks half-way, the tab is closed, and a new one goes on; returns it and the offsets sent from."""
    context = page.context
    line = CutLine(context)
    page.locator('input[type="file"]').set_input_files(str(clip))
    page.locator(".chosen > li").get_by_label("face-on", exact=True).check()
    upload = page.get_by_role("button", name="Upload", exact=True)
    expect(upload).to_be_enabled()
    upload.click()
    _until(page, lambda: line.is_cut)
    context.set_offline(True)
    expect(page.locator('[data-part="note"]')).to_contain_text("No connection")
    page.close()
    context.set_offline(False)
    page = context.new_page()
    page.goto(where)
    expect(page.locator("[data-clip]")).to_have_count(1)
    return page, line.offsets


def _until(page: Page, happened: Any, limit_ms: int = 30_000) -> None:
    for _ in range(limit_ms // 50):
        if happened():
            return
        page.wait_for_timeout(50)
    raise AssertionError("waited in vain")


def send(page: Page) -> None:
    page.get_by_role("button", name="Send to my coach", exact=True).click()
    expect(page.locator(".turn")).to_contain_text(re.compile("Sent|With your coach"))


def wait_until_measured(page: Page) -> None:
    """The page shows it by itself, without a reload."""
    expect(page.locator(".turn")).to_contain_text("With your coach", timeout=MEASURED_WITHIN_MS)


def review(page: Page) -> None:
    """Step, judge, draw, speak, write, publish."""
    page.get_by_role("button", name="Review Odalys Brandvold").click()
    step(page)
    agree(page, "early release")
    draw_line(page)
    record(page)
    write(page)
    page.get_by_role("button", name="Look over and publish").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("What Odalys Brandvold will see")
    page.get_by_role("button", name="Publish", exact=True).dblclick()
    expect(page.get_by_role("heading", level=1)).to_contain_text(re.compile("waiting|swings", re.IGNORECASE))


def step(page: Page) -> None:
    now = page.locator("[data-part=now]")
    expect(now).to_contain_text("Frame")
    before = now.text_content()
    stage = page.locator("[data-part=stage]")
    stage.focus()
    page.keyboard.press("ArrowRight")
    expect(now).not_to_have_text(before or "")
    page.get_by_role("group", name="Go to").get_by_role(
        "button", name=re.compile("^Top", re.IGNORECASE)
    ).click()
    page.wait_for_timeout(300)


def agree(page: Page, sign: str) -> None:
    button = page.get_by_role("button", name=f"Agree: {sign}")
    button.click()
    expect(button).to_have_attribute("aria-pressed", "true")


def draw_line(page: Page) -> None:
    page.get_by_role("button", name="Line", exact=True).click()
    box = page.locator("[data-part=picture]").bounding_box()
    assert box is not None
    x, y, wide, high = box["x"], box["y"], box["width"], box["height"]
    page.mouse.move(x + 0.4 * wide, y + 0.3 * high)
    page.mouse.down()
    page.mouse.move(x + 0.6 * wide, y + 0.6 * high, steps=6)
    page.mouse.up()
    note = page.get_by_label("What it shows, in a sentence")
    expect(note).to_be_visible()
    note.fill("Trunk line at the top")
    page.get_by_role("button", name="Done", exact=True).click()


def record(page: Page) -> None:
    page.get_by_role("button", name="Record", exact=True).click()
    page.wait_for_timeout(2500)
    page.get_by_role("button", name="Stop", exact=True).click()
    page.get_by_role("button", name="Keep it").click()
    expect(page.locator("[data-part=voice-list] audio")).to_have_count(1)


def write(page: Page) -> None:
    form = page.locator("[data-part=answer]")
    form.locator("[name=keep]").fill("Your quiet head")
    form.locator("[name=priority]").fill("Ball first, then turf")
    form.locator("[name=cue]").fill("brush the far side of the line")
    form.locator("[name=words]").fill("Look at the top, then at the drawing.")
    drill = form.locator("[name=drill]")
    wanted = drill.locator("option", has_text="Two dips, then through")
    drill.select_option(value=wanted.first.get_attribute("value"))
    expect(page.locator("[data-part=saved]")).to_contain_text(re.compile("saved", re.IGNORECASE))


def play_and_reply(page: Page) -> dict[str, Any]:
    """On the phone: the answer with its drawing and voice; returns what was seen and heard."""
    page.goto("/my/")
    page.get_by_role("link", name=re.compile("Read the answer")).first.click()
    expect(page.get_by_text("Ball first, then turf").first).to_be_visible()
    now = page.locator("[data-part=now]")
    expect(now).to_contain_text("of 150")
    # Body lines are off on the student's page until asked for.
    expect(page.locator('[data-part=body] path[d^="M"]')).to_have_count(0)
    page.get_by_role("button", name=re.compile("Trunk line at the top")).click()
    expect(now).to_contain_text("top")
    expect(page.locator("[data-part=marks] g.mark")).to_have_count(1)
    heard = page.evaluate(LISTEN)
    page.get_by_label("Your reply").fill("I see it now. Thank you!")
    page.get_by_role("button", name=re.compile("^(Send|Reply)")).click()
    expect(page.get_by_text("I see it now. Thank you!").first).to_be_visible()
    return dict(heard)


LISTEN = """async () => {
  const sound = document.querySelector(".voice-note audio");
  const film = document.querySelector("[data-player] video");
  await new Promise((done, fail) => { sound.onloadedmetadata = done; sound.onerror = fail; sound.load(); });
  await sound.play();
  await new Promise((done) => setTimeout(done, 900));
  return {voice_s: sound.duration, played_s: sound.currentTime, film_s: film.duration, wide: film.videoWidth};
}"""
