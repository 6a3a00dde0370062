"""A coach records a hello, as voice and then as a film; a student hears and reads it on a phone."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from coachhub.camps.models import Hello, HelloRecording
from coachhub.camps.tasks import prepare_hello
from tests import factories
from tests.e2e.axe import serious_findings
from tests.e2e.conftest import PHONE, OpenPage

pytestmark = [pytest.mark.e2e, pytest.mark.django_db(transaction=True)]
WORDS = "I am glad that you come. In four weeks we look at where the club meets the ground."
PLAYED = """async (selector) => {
  const media = document.querySelector(selector);
  media.muted = true;
  await media.play();
  await new Promise((done) => { media.addEventListener("timeupdate", () => media.currentTime > 0 && done()); });
  return {length: media.duration, wide: media.videoWidth ?? 0};
}"""


def test_a_hello_is_recorded_heard_replaced_by_a_film_and_deleted(open_page: OpenPage) -> None:
    today = timezone.localdate()
    camp = factories.make_camp(starts_on=today + timedelta(days=3), ends_on=today + timedelta(days=30))
    cohort = factories.make_cohort(camp, "Morning")
    student, coach = factories.make_student(cohort, "Sam Student"), factories.make_user("Ada Coach")
    factories.join(coach, cohort, "coach")

    desk = open_page(coach, f"/organiser/{camp.public_id}/plan/")
    _voice(desk)
    row = HelloRecording.objects.get()
    assert (row.job_state, row.is_film, row.source_key, row.hello.words) == ("done", False, "", WORDS)
    assert serious_findings(desk) == []

    page = open_page(student, "/my/", size=PHONE)
    _heard(page, "audio")
    page.goto("/my/plan/")
    assert _heard(page, "audio")["length"] == pytest.approx(row.duration_ms / 1000, abs=0.1)

    _film(desk)
    film = HelloRecording.objects.get()
    assert film.pk != row.pk
    assert film.is_film
    page.reload()
    assert _heard(page, "video")["wide"] > 0
    wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    assert wide <= 1

    desk.get_by_role("button", name="Delete the recording").click()
    expect(desk.get_by_text("The recording is deleted. The words stay.")).to_be_visible()
    assert not HelloRecording.objects.exists()
    assert Hello.objects.get().words == WORDS


def _voice(desk: Page) -> None:
    """Without its words it isn't taken, and isn't lost either."""
    desk.get_by_role("button", name="Record your voice").click()
    expect(desk.get_by_text("Recording.", exact=True)).to_be_visible()
    desk.wait_for_timeout(1500)
    desk.get_by_role("button", name="Stop").click()
    expect(desk.get_by_label("What you recorded")).to_be_visible()
    desk.get_by_role("button", name="Save", exact=True).click()
    expect(desk.get_by_text("Write down what you say, too")).to_be_visible()
    assert not HelloRecording.objects.exists()
    desk.get_by_label("Your hello").fill(WORDS)
    desk.get_by_role("button", name="Save", exact=True).click()
    expect(desk.get_by_text("Saved. The recording is being made ready")).to_be_visible()
    prepare_hello.run(HelloRecording.objects.get().pk)
    expect(desk.locator("audio.hello-sound")).to_be_visible()


def _film(desk: Page) -> None:
    desk.get_by_role("button", name="Film it anew").click()
    expect(desk.get_by_text("Filming. At most one minute.")).to_be_visible()
    desk.wait_for_timeout(2500)
    desk.get_by_role("button", name="Stop").click()
    expect(desk.get_by_label("What you filmed")).to_be_visible()
    desk.get_by_role("button", name="Save", exact=True).click()
    expect(desk.get_by_text("Until then the older one plays.")).to_be_visible()
    expect(desk.locator("audio.hello-sound")).to_be_visible()
    prepare_hello.run(HelloRecording.objects.latest("pk").pk)
    expect(desk.locator("video.hello-film")).to_be_visible()


def _heard(page: Page, tag: str) -> dict[str, float]:
    expect(page.get_by_text(WORDS)).to_be_visible()
    assert serious_findings(page) == []
    played: dict[str, float] = page.evaluate(PLAYED, f"section.hello {tag}")
    return played


def test_a_refused_microphone_has_a_way_on(open_page: OpenPage) -> None:
    cohort = factories.make_cohort()
    coach = factories.make_user("Ada Coach")
    factories.join(coach, cohort, "coach")
    page = open_page(coach, f"/organiser/{cohort.camp.public_id}/plan/")
    page.evaluate(
        "navigator.mediaDevices.getUserMedia = async () => { throw new DOMException('no', 'NotAllowedError'); }; null"
    )
    page.get_by_role("button", name="Record your voice").click()
    expect(page.get_by_text("The microphone is not allowed.")).to_be_visible()
    expect(page.get_by_label("A sound file or a film")).to_be_visible()
    page.get_by_role("button", name="Film yourself").click()
    expect(page.get_by_text("Allow both in the browser's settings")).to_be_visible()
