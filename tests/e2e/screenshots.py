"""Take the README's pictures from a running demo: ``python -m tests.e2e.screenshots http://127.0.0.1:8000 FOLDER``."""

from __future__ import annotations

import re
import sys
from pathlib import Path

from playwright.sync_api import Browser, Page, sync_playwright

from coachhub.bootstrap import debian
from coachhub.progress.demo.scenario import PASSWORD
from tests.e2e.whole_way import DESKTOP, PHONE


def sign_in(browser: Browser, url: str, name: str, screen: dict[str, object]) -> Page:
    page = browser.new_context(base_url=url, locale="en-GB", **screen).new_page()  # type: ignore[arg-type]
    page.goto("/account/sign-in/")
    page.get_by_label("E-mail").fill(f"{name}@example.org")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_load_state("networkidle")
    return page


def take(page: Page, folder: Path, name: str) -> None:
    page.wait_for_load_state("networkidle")
    page.wait_for_timeout(1200)
    page.screenshot(path=str(folder / f"{name}.png"))
    print(folder / f"{name}.png")


def student(browser: Browser, url: str, folder: Path) -> None:
    page = sign_in(browser, url, "mirela.tanabe", PHONE)
    take(page, folder, "student-home")
    page.get_by_role("link", name=re.compile("Read the answer")).last.click()
    page.locator(".replay-list button").last.click()
    page.wait_for_timeout(800)
    take(page, folder, "student-answer")
    page.goto("/my/progress/")
    page.locator("#numbers").evaluate("heading => heading.scrollIntoView()")
    take(page, folder, "student-progress")


def coach(browser: Browser, url: str, folder: Path) -> None:
    page = sign_in(browser, url, "tamsin.okolie", DESKTOP)
    page.goto("/coach/")
    take(page, folder, "coach-queue")
    page.get_by_role("button", name=re.compile("^(Review|Go on)")).first.click()
    take(page, folder, "coach-desk")


TABLET = {"viewport": {"width": 1024, "height": 768}, "has_touch": True}


def desk_beside(browser: Browser, url: str, folder: Path) -> None:
    """The desk with a swing of the library beside the student's, and a line drawn, on three screens."""
    for name, screen in (("desktop", DESKTOP), ("tablet", TABLET), ("phone", PHONE)):
        page = sign_in(browser, url, "tamsin.okolie", screen)
        page.goto("/coach/")
        page.get_by_role("button", name=re.compile("^(Review|Go on)")).first.click()
        page.wait_for_load_state("networkidle")
        choice = page.get_by_label("Set beside it")
        alike = choice.locator("option", has_text="from behind").first
        choice.select_option(value=alike.get_attribute("value"))
        page.wait_for_timeout(1500)
        page.locator("[data-event=top]").first.click()
        page.locator("[data-part=stage]").scroll_into_view_if_needed()
        take(page, folder, f"desk-beside-{name}")
        page.context.close()


def organiser(browser: Browser, url: str, folder: Path) -> None:
    page = sign_in(browser, url, "noor.vestergaard", DESKTOP)
    page.goto("/organiser/")
    page.get_by_role("link", name=re.compile("Alder Fen")).first.click()
    take(page, folder, "organiser-camp")
    page.get_by_role("link", name=re.compile("sign", re.IGNORECASE)).first.click()
    take(page, folder, "organiser-signs")


def main(url: str, folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    with sync_playwright() as driver:
        browser = driver.chromium.launch(
            executable_path=debian.find_program("chromium"), args=["--no-sandbox"]
        )
        for person in (student, coach, desk_beside, organiser):
            person(browser, url, folder)
        browser.close()


if __name__ == "__main__":
    main(sys.argv[1].rstrip("/"), Path(sys.argv[2]))
