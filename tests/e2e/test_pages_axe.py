"""Every page of every role, on the phone and on the desk, with the demo camp's real content: nothing serious."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from coachhub.progress.demo.scenario import PASSWORD
from tests.e2e import whole_way
from tests.e2e.axe import serious_findings
from tests.e2e.keyboard import keyboard_findings
from tests.stack import Stack

pytestmark = [pytest.mark.e2e]

PEOPLE = {
    "student": "danuta.reyesova@example.org",
    "guardian": "wanda.okonski@example.org",
    "coach": "tamsin.okolie@example.org",
    "organiser": "noor.vestergaard@example.org",
}
START = {"student": "/my/", "guardian": "/guardian/", "coach": "/coach/", "organiser": "/organiser/"}
MORE = {
    "student": (
        "/account/",
        "/account/intake/",
        "/account/password/",
        "/account/consents/",
        "/my/new/",
        "/my/progress/",
    ),
    "guardian": ("/account/",),
    "coach": ("/account/", "/coach/?show=put_off", "/coach/?show=all"),
    "organiser": ("/account/", "/organiser/new/"),
}
SCREENS = {"phone": whole_way.PHONE, "desk": whole_way.DESKTOP}
FOLLOWED = re.compile(r"^/(my|guardian|coach|organiser|account|data|lessons|progress)/")
NOT_PAGES = re.compile(r"\.(csv|xlsx|pdf|ics|json)$|/sign-out/|/media/")
# Ids, and what a lesson is about.
IDENT = re.compile(r"[0-9a-f]{8}-[0-9a-f-]{27}|(?<=/lesson/)\w+/[\w-]+")
LOAD = """
from django.core.management import call_command
from tests import measured
measured.remember()
call_command("load_demo", "--measure", "--student", "danuta", "--student", "hana", verbosity=0)
"""
LEAST = {"student": 8, "guardian": 6, "coach": 6, "organiser": 8}


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory, browser: Browser) -> Iterator[whole_way.Site]:
    """The demo camp with one student's whole story and one case that waits."""
    stack = Stack(tmp_path_factory.mktemp("axe") / "stack")
    try:
        stack.python(LOAD)
        _, port = stack.web()
        yield whole_way.Site(stack, browser, f"http://127.0.0.1:{port}", {})
    finally:
        stack.close()


@pytest.mark.parametrize("screen", SCREENS)
@pytest.mark.parametrize("role", PEOPLE)
def test_every_page_of_a_role_can_be_used_by_everybody(site: whole_way.Site, role: str, screen: str) -> None:
    page = site.signed_in(PEOPLE[role], SCREENS[screen], password=PASSWORD)
    found = dict(walk(page, START[role], MORE[role]))
    print(f"\n{role} on the {screen}: {len(found)} kinds of page: {', '.join(sorted(found))}")
    assert len(found) >= LEAST[role]
    assert {kind: problems for kind, problems in found.items() if problems} == {}


@pytest.mark.parametrize("screen", SCREENS)
def test_the_review_desk_and_the_look_before_publishing(site: whole_way.Site, screen: str) -> None:
    page = site.signed_in(PEOPLE["coach"], SCREENS[screen], password=PASSWORD)
    page.goto("/coach/")
    page.get_by_role("button", name=re.compile("^(Review|Go on)")).first.click()
    expect(page.locator("[data-part=now]")).to_contain_text("Frame")
    assert problems_of(page) == []
    page.locator("[data-part=answer] [name=priority]").fill("Finish on the lead foot")
    page.get_by_role("button", name="Look over and publish").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("will see")
    assert problems_of(page) == []


@pytest.mark.parametrize("screen", SCREENS)
def test_pages_before_signing_in(site: whole_way.Site, screen: str) -> None:
    page = site.visitor(SCREENS[screen]).new_page()
    for path in ("/account/sign-in/", "/account/new-password/", "/account/join/nonsense/", "/nothing-here/"):
        page.goto(path)
        assert (path, problems_of(page)) == (path, [])


def walk(page: Page, start: str, more: tuple[str, ...]) -> Iterator[tuple[str, list[str]]]:
    """Follow every link, one page of each kind: a page's kind is its address without the ids."""
    seen: set[str] = set()
    ahead = [start, *more]
    while ahead:
        path = ahead.pop(0)
        kind = IDENT.sub("…", path.split("?")[0].split("#")[0]) + ("?" if "?" in path else "")
        if kind in seen:
            continue
        seen.add(kind)
        answer = page.goto(path)
        assert answer is not None
        assert answer.status == 200, path
        yield kind, problems_of(page)
        ahead += [link for link in links_of(page) if FOLLOWED.match(link) and not NOT_PAGES.search(link)]


def links_of(page: Page) -> list[str]:
    links: list[str] = page.evaluate(
        "[...document.querySelectorAll('a[href]')].filter(a => a.origin === location.origin)"
        ".map(a => a.pathname + a.search)"
    )
    return links


def problems_of(page: Page) -> list[str]:
    """What axe finds, a page wider than its window, and on the desk what Tab does not reach or show."""
    page.wait_for_load_state("networkidle")
    problems = serious_findings(page)
    if (page.viewport_size or {"width": 0})["width"] >= whole_way.DESKTOP["viewport"]["width"]:
        problems += keyboard_findings(page)
    wide: dict[str, Any] = page.evaluate(
        "({page: document.documentElement.scrollWidth, window: document.documentElement.clientWidth})"
    )
    if wide["page"] > wide["window"] + 1:
        problems.append(f"{wide['page']} px wide in a window of {wide['window']} px")
    return problems
