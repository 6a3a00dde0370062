"""Exact frames, read back from the picture itself."""

from __future__ import annotations

import random
import re
import time
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.e2e.clips import READ_NUMBER, give_picture
from tests.e2e.conftest import OpenPage
from tests.e2e.desk_scene import make_desk_scene

pytestmark = [pytest.mark.e2e, pytest.mark.django_db(transaction=True)]

SHOW = f"""async (wanted) => {{
  const root = document.querySelector("[data-player]");
  const bar = root.querySelector("[data-part=bar]");
  const read = {READ_NUMBER};
  const seen = [];
  for (const frame of wanted) {{
    const shown = new Promise((done) => {{
      root.addEventListener("player:frame", (event) => done(event.detail.frame), {{once: true}});
    }});
    const start = performance.now();
    bar.value = frame;
    bar.dispatchEvent(new Event("input"));
    const told = await shown;
    seen.push([frame, told, read(root), performance.now() - start]);
  }}
  return seen;
}}"""


def wait_until_live(page: Page) -> None:
    expect(page.locator("[data-part=now]")).to_have_text(re.compile("^Frame"))


def wait_until(page: Page, words: str) -> None:
    expect(page.locator("[data-part=now]")).to_contain_text(words)


def number_on_screen(page: Page) -> Any:
    return page.evaluate(f"({READ_NUMBER})(document.querySelector('[data-player]'))")


@pytest.mark.parametrize("variable", [False, True])
def test_fifty_random_seeks_show_the_very_frame(open_page: OpenPage, variable: bool) -> None:
    scene = make_desk_scene(variable=variable)
    page = open_page(scene.coach, scene.path)
    wait_until_live(page)
    wanted = random.Random(11).choices(range(150), k=50)
    seen = page.evaluate(SHOW, wanted)
    off = [(frame, told, read) for frame, told, read, _ in seen if not frame == told == read]
    times = sorted(ms for *_, ms in seen)
    print(f"\n{len(off)} of {len(seen)} seeks off; median {times[25]:.0f} ms, worst {times[-1]:.0f} ms")
    assert off == []


def test_keys_step_one_frame_only_while_the_picture_has_the_focus(open_page: OpenPage) -> None:
    scene = make_desk_scene()
    page = open_page(scene.coach, scene.path)
    wait_until_live(page)
    start = number_on_screen(page)
    assert start == 12  # address, 0.2 s at 60 frames a second
    page.keyboard.press("ArrowRight")
    page.wait_for_timeout(200)
    assert number_on_screen(page) == start
    stage = page.locator("[data-part=stage]")
    stage.focus()
    steps = (
        ("ArrowRight", 13),
        ("Shift+ArrowRight", 23),
        ("ArrowLeft", 22),
        ("PageDown", 48),
        ("PageUp", 21),
    )
    for key, frame in (*steps, ("Home", 0), ("End", 149)):
        page.keyboard.press(key)
        wait_until(page, f"Frame {frame + 1} of")
        assert number_on_screen(page) == frame
    for _ in range(6):
        page.keyboard.press("ArrowLeft")
    wait_until(page, "Frame 144 of")
    assert number_on_screen(page) == 143


def test_every_event_is_one_press_away_and_lines_follow_the_picture(open_page: OpenPage) -> None:
    scene = make_desk_scene()
    give_picture(scene.swing.clip, click_s=1.4)
    page = open_page(scene.coach, scene.path)
    wait_until_live(page)
    # The strike can be heard: the loudest place of the sound along the bar is that of impact, 1.4 s of 2.5 s.
    shape = page.locator("[data-part=wave] path").get_attribute("d") or ""
    upper = [float(point.split()[1]) for point in shape.strip("MZ").split("L")[:400]]
    assert upper.index(min(upper)) / 400 == pytest.approx(1.4 / 2.5, abs=0.01)
    expect(page.locator("[data-part=wave]")).to_be_visible()
    lead = page.locator(".body-lead .ink")
    before = lead.get_attribute("d")
    page.get_by_role("group", name="Go to").get_by_role("button", name="impact").click()
    wait_until(page, "impact")
    assert number_on_screen(page) == 84
    assert lead.get_attribute("d") not in ("", before)
    page.get_by_label("Body lines").uncheck()
    assert lead.get_attribute("d") == ""
    assert page.locator(".body-shaft .ink").get_attribute("d") != ""


@pytest.mark.bench
def test_slow_motion_is_slow_and_pausing_stands_on_the_shown_frame(open_page: OpenPage) -> None:
    scene = make_desk_scene()
    page = open_page(scene.coach, scene.path)
    wait_until_live(page)
    page.get_by_role("button", name="an eighth of the speed").click()
    began = time.monotonic()
    page.locator("[data-part=play]").click()
    page.wait_for_timeout(1600)
    page.locator("[data-part=play]").click()
    expect(page.locator("[data-part=play]")).to_have_text("Play")
    lasted_s = time.monotonic() - began
    page.wait_for_timeout(150)
    frame = int(page.locator("[data-part=now]").inner_text().split()[1]) - 1
    assert number_on_screen(page) == frame
    # An eighth of 60 frames a second, from frame 12 on; a busy machine may lose some, but never shows more.
    assert 12 + 1 <= frame <= 12 + lasted_s * 60 / 8 + 1


def test_another_clip_brings_its_own_picture_events_and_numbers(open_page: OpenPage) -> None:
    scene = make_desk_scene()
    page = open_page(scene.coach, scene.path)
    wait_until_live(page)
    page.get_by_role("button", name="Clip 2, down-the-line").click()
    wait_until(page, "of 60")
    expect(page.locator("[data-part=wave]")).to_be_hidden()
    visible = page.locator("[data-card]:visible")
    assert visible.count() == 1
    assert visible.get_attribute("data-card") == str(scene.second.public_id)


def test_an_address_that_ran_out_is_renewed(open_page: OpenPage) -> None:
    scene = make_desk_scene()
    page = open_page(scene.coach, scene.path)
    wait_until_live(page)
    state = {"left": 1}
    page.route("**/media/clip.index/**", lambda route: refuse_once(route, state))
    page.get_by_role("button", name="Clip 2, down-the-line").click()
    wait_until(page, "of 60")
    assert state["left"] == 0


def refuse_once(route: Any, state: dict[str, int]) -> None:
    if state["left"]:
        state["left"] -= 1
        route.fulfill(status=403, body="out of date")
    else:
        route.continue_()


def test_without_script_the_video_plays_and_the_answer_can_be_written(open_page: OpenPage) -> None:
    scene = make_desk_scene()
    page = open_page(scene.coach, scene.path, java_script_enabled=False)
    assert page.locator("[data-player] video").first.get_attribute("controls") is not None
    assert page.locator("video.player-spare").count() == 1
    page.get_by_label("The one thing to work on").fill("let the turf come first")
    page.get_by_role("button", name="Look over and publish").click()
    assert "let the turf come first" in page.locator("main").inner_text()
    page.get_by_role("button", name="Publish", exact=True).click()
    scene.review.refresh_from_db()
    assert scene.review.state == "published"
