"""The first day beside the latest in a real player, and the pages of progress by keyboard and for everybody."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import Page, expect

from coachhub.camps.models import Membership
from coachhub.feedback.domain.reviews import publish_review, save_draft
from coachhub.swings.models import SignFlag, SignJudgement
from tests import factories
from tests.e2e.axe import serious_findings
from tests.e2e.beside_scene import OTHER_TIMES, BesideScene, frame_at, make_beside_scene
from tests.e2e.conftest import PHONE, OpenPage

pytestmark = [pytest.mark.e2e, pytest.mark.django_db(transaction=True)]

SIZES: dict[str, Any] = {"phone": PHONE, "desk": None}


def make_answered_scene() -> BesideScene:
    """Both range days are answered, and in both the same sign is confirmed."""
    scene = make_beside_scene()
    desk, now = scene.desk, timezone.now()
    for swing in (scene.earlier.swing, desk.swing):
        SignFlag.objects.create(readout=swing.readouts.get(), sign="reverse_spine_tilt", level="likely")
        SignJudgement.objects.create(
            swing=swing, sign="reverse_spine_tilt", verdict="agree", by=desk.coach, created_at=now
        )
    earlier = scene.earlier.swing.clip.submission
    assert earlier is not None
    out = {"state": "published", "published_at": factories.NOW, "published_by": desk.coach}
    factories.make_review(earlier, priority="turf first", **out)
    review = save_draft(desk.review, {"priority": "a fuller finish"}, revision=0, by=desk.coach, now=now)
    publish_review(review, by=desk.coach, now=now)
    return scene


def place_of(scene: BesideScene) -> Membership:
    return Membership.objects.get(user=scene.desk.student)


def test_the_two_days_play_side_by_side_held_together_at_the_top(open_page: OpenPage) -> None:
    scene = make_answered_scene()
    page = open_page(scene.desk.student, reverse("student:progress"), size=PHONE)
    way = page.get_by_role("link", name=re.compile("Play the two side by side"))
    way.focus()
    page.keyboard.press("Enter")
    # The first day on the left at its own top, 1.5 s; the latest beside it at its own, 1.1 s.
    first = frame_at(scene.earlier.times_us, OTHER_TIMES["top"] * 1e6)
    latest = frame_at(scene.desk.times_us, 1.1e6)
    expect(page.locator("[data-part=now]")).to_have_text(re.compile(rf"^Frame {first + 1} of"))
    expect(page.locator("[data-part=beside-now]")).to_have_text(re.compile(rf"^Frame {latest + 1} of"))
    names = [page.locator(f"[data-part=name-{where}]") for where in ("here", "there")]
    assert [name.inner_text() for name in names] == ["3 June", "9 June"]


@pytest.mark.parametrize("size", SIZES)
def test_everybody_can_use_the_pages(open_page: OpenPage, size: str) -> None:
    scene = make_answered_scene()
    place = place_of(scene)
    assert place.cohort is not None
    own, of_coach = reverse("student:progress"), reverse("progress:student", args=[place.public_id])
    beside = reverse("progress:beside", args=[place.public_id, "face_on.iron.60"])
    cohort = reverse("progress:cohort", args=[place.cohort.public_id])
    student, coach = scene.desk.student, scene.desk.coach
    for reader, path in ((student, own), (student, beside), (coach, of_coach), (coach, cohort)):
        page = open_page(reader, path, **({"size": SIZES[size]} if SIZES[size] else {}))
        page.wait_for_load_state("networkidle")
        for summary in page.locator("main details > summary").all():
            if summary.is_visible():
                summary.press("Enter")
        assert serious_findings(page) == [], path
        assert is_narrow(page), path


def test_another_part_of_the_swing_by_keyboard(open_page: OpenPage) -> None:
    scene = make_answered_scene()
    page = open_page(scene.desk.coach, reverse("progress:student", args=[place_of(scene).public_id]))
    choice = page.get_by_label("Which numbers")
    choice.focus()
    page.keyboard.type("Downswing")
    page.keyboard.press("Tab")
    expect(page.get_by_role("button", name="Show them")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page).to_have_url(re.compile("numbers=Downswing"))
    expect(page.locator(".plot-card h3").first).to_be_visible()


def is_narrow(page: Page) -> bool:
    return bool(
        page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth + 1")
    )
