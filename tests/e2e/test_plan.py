"""A camp's task from the organiser's form to a swing that was filmed without signal."""

from __future__ import annotations

import time
from datetime import timedelta
from pathlib import Path

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from coachhub.camps.models import CampTask, Membership
from coachhub.progress.domain.plan import plan_of
from coachhub.videos.enums import ClipState, SubmissionState
from coachhub.videos.models import Clip, Submission
from tests import factories
from tests.e2e.axe import serious_findings
from tests.e2e.conftest import PHONE, OpenPage
from tests.e2e.test_phone import film

pytestmark = [pytest.mark.e2e, pytest.mark.django_db(transaction=True)]
KEPT = """async () => {
  const found = [];
  for (const name of await caches.keys()) {
    for (const request of await (await caches.open(name)).keys()) found.push(new URL(request.url).pathname);
  }
  return found;
}"""


def test_a_task_is_set_filmed_without_signal_and_done(open_page: OpenPage, tmp_path: Path) -> None:
    today = timezone.localdate()
    camp = factories.make_camp(starts_on=today, ends_on=today + timedelta(days=27), time_zone="UTC")
    cohort = factories.make_cohort(camp)
    student, organiser = factories.make_student(cohort, "Sam Student"), factories.make_user("Mara Organiser")
    factories.join(organiser, cohort, "organiser")

    desk = open_page(organiser, f"/organiser/{camp.public_id}/plan/")
    desk.get_by_label("The task").fill("One iron swing from behind")
    desk.get_by_label("In which week").select_option("1")
    desk.get_by_label("Club").select_option("iron")
    desk.get_by_label("face-on").uncheck()
    desk.get_by_label("Swings from each view").fill("1")
    desk.get_by_role("button", name="Make the task").click()
    expect(desk.get_by_role("rowheader", name="One iron swing from behind")).to_be_visible()
    expect(desk.get_by_role("row", name="Sam Student")).to_contain_text("not yet")
    assert serious_findings(desk) == []
    assert CampTask.objects.get().due_on == today + timedelta(days=6)

    page = open_page(student, "/my/", size=PHONE)
    expect(page.get_by_role("heading", name="Your tasks")).to_be_visible()
    expect(page.get_by_text("1 down-the-line")).to_be_visible()
    _wait_for_guide(page)
    _film_without_signal(page, film(tmp_path / "behind.mp4"))
    _send(page, today.isoformat())

    # The measuring has tests of its own: here the clip has become usable.
    sent = Submission.objects.get()
    Submission.objects.update(state=SubmissionState.USABLE)
    Clip.objects.filter(submission=sent).update(state=ClipState.USABLE)
    assert sent.clips.get().view == "dtl"
    place = Membership.objects.select_related("camp").get(user=student)
    assert [one.state for one in plan_of(place, now=timezone.now())] == ["done"]
    page.goto("/my/plan/")
    expect(page.get_by_text("done", exact=True)).to_be_visible()
    assert serious_findings(page) == []

    _leaves_nothing(page)


def _wait_for_guide(page: Page) -> None:
    page.evaluate("() => navigator.serviceWorker.ready")
    # Ready is a worker only once all is kept.
    kept = page.evaluate(KEPT)
    assert "/film/" in kept and len(kept) > 20
    assert all(path == "/film/" or path.startswith("/static/") for path in kept), kept
    body = page.evaluate("async () => (await (await caches.match('/film/', {ignoreVary: true})).text())")
    assert "Sam Student" not in body and "csrfmiddlewaretoken" not in body


def _film_without_signal(page: Page, clip: Path) -> None:
    page.context.set_offline(True)
    # Any page leads to the guide then.
    page.goto("/my/")
    expect(page.get_by_role("heading", name="How to film your swing")).to_be_visible()
    shown = (
        "() => [...document.querySelectorAll('.drawings img')].every(i => i.complete && i.naturalWidth > 0)"
    )
    page.wait_for_function(shown)
    assert serious_findings(page) == []
    page.locator('input[type="file"]').set_input_files(str(clip))
    page.locator(".chosen > li").get_by_label("down-the-line").check()
    page.get_by_role("button", name="Keep on this phone").click()
    expect(page.get_by_text("1 clip is kept on this phone.")).to_be_visible()
    page.context.set_offline(False)


def _send(page: Page, day: str) -> None:
    page.goto("/my/")
    expect(page.get_by_role("heading", name="Kept on this phone")).to_be_visible()
    page.get_by_role("link", name="Send swings for it").click()
    page.get_by_label("iron", exact=True).check()
    page.locator('input[name="range_day"]').fill(day)
    said = {"miss_start": "left", "miss_curve": "none", "miss_strike": "clean", "miss_height": "normal"}
    for name, value in said.items():
        page.locator(f'input[name="{name}"][value="{value}"]').check()
    page.locator('input[name="intents"][value="nothing"]').check()
    page.locator(
        'input[name="pain_today"][value="no"], input[name="pain_today"][value="False"]'
    ).first.check()
    page.get_by_role("button", name="Go on to the clips").click()
    page.evaluate("() => localStorage.setItem('uploads.when', 'later')")
    page.reload()
    page.get_by_role("button", name="Add them to these clips").click()
    # "Not now" holds it back until one says so.
    expect(page.get_by_text("Waits for its turn")).to_be_visible()
    assert not Clip.objects.exists()
    page.get_by_label("as soon as there is a connection").check()
    expect(page.locator("[data-clip]")).to_have_count(1)
    page.get_by_role("button", name="Send to my coach", exact=True).click()
    expect(page.get_by_text("Sent.", exact=True)).to_be_visible()


def _leaves_nothing(page: Page) -> None:
    page.goto("/account/")
    page.get_by_role("button", name="Sign out", exact=True).click()
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    page.wait_for_function("() => localStorage.getItem('film.person') === null")
    # The page forgets in the background; a function that is waited for can't itself wait.
    until = time.monotonic() + 15
    while (kept := page.evaluate(KEPT)) and time.monotonic() < until:
        page.wait_for_timeout(100)
    assert kept == []
