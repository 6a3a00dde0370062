"""A coach fills the reference library: said, filmed, sent over a line that breaks, played, shared, deleted."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.sync_api import Page, Route, expect

from coachhub.videos.models import Clip, Reference
from tests.cast import make_cast
from tests.e2e.axe import serious_findings
from tests.e2e.clips import numbered_clip
from tests.e2e.conftest import PHONE, OpenPage
from tests.factories import make_reference

pytestmark = [
    pytest.mark.e2e,
    pytest.mark.django_db(transaction=True),
    pytest.mark.usefixtures("work_at_once"),
]


def sound(page: Page) -> None:
    assert serious_findings(page) == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_a_demonstration_from_title_to_deletion(open_page: OpenPage, tmp_path: Path) -> None:
    cast = make_cast()
    film = tmp_path / "hands.mp4"
    numbered_clip(film, count=40)
    page = open_page(cast.coach, "/coach/library/", size=PHONE, has_touch=True)
    lost = {"left": 2}

    def break_off(route: Route) -> None:
        if route.request.method == "PATCH" and lost["left"]:
            lost["left"] -= 1
            route.abort("connectionreset")
        else:
            route.continue_()

    # Before the next page is on its way: one that loads meanwhile may escape it.
    page.route("**/uploads/**", break_off)
    sound(page)
    page.get_by_role("link", name="Add a reference").click()
    sound(page)
    page.get_by_label("Title").fill("Trail hand under")
    page.get_by_label("What it shows").select_option(label="a demonstration of the hands")
    page.get_by_label("Filmed from where?").select_option(label="face-on")
    page.get_by_label("Who is in the picture, and who agreed?").fill("myself")
    page.get_by_role("button", name="Go on to the film").click()
    expect(page.locator("[data-film].is-live")).to_be_visible()
    page.get_by_label("Choose a film, or film it now").set_input_files(film)
    page.get_by_role("button", name="Send the film").click()
    expect(page.locator("[data-player]")).to_be_visible(timeout=90_000)
    expect(page.locator("[data-part=now]")).to_have_text(re.compile("of 40"))
    assert lost["left"] == 0
    sound(page)
    clip = Clip.objects.get()
    # Nobody swings in it, and that is no fault of a demonstration.
    assert (clip.state, clip.reference) == ("usable", Reference.objects.get())
    page.get_by_role("button", name="Share it with the camp's coaches").click()
    expect(page.get_by_text("Shared: the camp's other coaches")).to_be_visible()
    other = open_page(cast.coach_elsewhere, "/coach/library/")
    expect(other.get_by_role("link", name="Trail hand under")).to_be_visible()
    page.get_by_text("Delete it", exact=True).click()
    page.get_by_role("button", name="Delete it for good").click()
    expect(page.get_by_text("The library is empty.")).to_be_visible()
    assert not Clip.objects.exists() and not Reference.objects.exists()


@pytest.mark.bench
def test_a_reference_filmed_with_the_coachs_own_camera(open_page: OpenPage) -> None:
    cast = make_cast()
    reference = make_reference(cast.coach, cast.camp, "Set-up with a wedge", kind="set_up")
    page = open_page(cast.coach, f"/coach/library/{reference.public_id}/", size=PHONE, has_touch=True)
    page.get_by_role("button", name="Film with this device's camera").click()
    expect(page.get_by_text("The camera gives")).to_be_visible()
    sound(page)
    page.get_by_role("button", name="Start filming").click()
    page.wait_for_timeout(700)
    page.get_by_role("button", name="Stop filming").click()
    page.get_by_role("button", name="Film it again").click()
    page.get_by_role("button", name="Start filming").click()
    page.wait_for_timeout(2500)
    page.get_by_role("button", name="Stop filming").click()
    expect(page.locator("[data-part=camera-view]")).to_have_js_property("controls", True)
    page.get_by_role("button", name="Send what I filmed").click()
    expect(page.locator("[data-player]")).to_be_visible(timeout=90_000)
    clip = Clip.objects.get()
    assert (clip.state, clip.reference) == ("usable", reference)
    assert clip.duration_s == pytest.approx(2.5, abs=1.2) and (clip.frame_count or 0) > 15


def test_a_camera_that_is_refused_leaves_the_file_picker(open_page: OpenPage) -> None:
    cast = make_cast()
    reference = make_reference(cast.coach, cast.camp, kind="hands")
    page = open_page(cast.coach, f"/coach/library/{reference.public_id}/")
    page.evaluate(
        """() => { navigator.mediaDevices.getUserMedia = () =>
          Promise.reject(new DOMException("", "NotAllowedError")); }"""
    )
    page.get_by_role("button", name="Film with this device's camera").click()
    expect(page.get_by_text("choose a film below")).to_be_visible()
    expect(page.get_by_role("button", name="Send the film")).to_be_enabled()
