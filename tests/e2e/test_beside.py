"""Two swings side by side: which frames are shown together is read from both pictures, never asked of the player."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pytest
from playwright.sync_api import Page, expect

from tests.e2e.axe import serious_findings
from tests.e2e.beside_scene import (
    OTHER_TIMES,
    BesideScene,
    Other,
    frame_at,
    make_beside_scene,
    nearest_frame,
)
from tests.e2e.clips import READ_NUMBER
from tests.e2e.conftest import DESKTOP, PHONE, OpenPage

pytestmark = [pytest.mark.e2e, pytest.mark.django_db(transaction=True), pytest.mark.bench]

TABLET = {"width": 1024, "height": 768}
SPEEDS = ("full speed", "half speed", "a quarter of the speed", "an eighth of the speed")
HELPERS = f"""
window.read = {READ_NUMBER};
window.pair = () => ["[data-player]", "[data-part=beside]"].map((one) => window.read(document.querySelector(one)));
window.sample = (ms) => new Promise((done) => {{
  const seen = [];
  const start = performance.now();
  const look = (now) => {{
    seen.push(window.pair());
    if (now - start < ms) requestAnimationFrame(look);
    else done(seen);
  }};
  requestAnimationFrame(look);
}});
window.deeds = [];
document.addEventListener("player:deed", (event) => window.deeds.push(event.detail));
"""


def at_the_desk(open_page: OpenPage, scene: BesideScene, *, before: str = "", **options: Any) -> Page:
    page = open_page(scene.desk.coach, "/account/", **options)
    page.add_init_script(HELPERS + before)
    page.goto(scene.desk.path)
    expect(page.locator("[data-part=now]")).to_have_text(re.compile("^Frame"))
    return page


def set_beside(page: Page, other: Other) -> None:
    page.get_by_label("Set beside it").select_option(label=other.words)
    expect(page.locator("[data-part=beside-now]")).to_have_text(re.compile(f"of {len(other.times_us)} "))
    page.wait_for_timeout(200)


def seek(page: Page, frame: int) -> None:
    page.locator("[data-player] [data-part=bar]").fill(str(frame))
    expect(page.locator("[data-part=now]")).to_contain_text(f"Frame {frame + 1} of")
    page.wait_for_timeout(150)


def allowed(scene: BesideScene, other: Other, frame: int) -> tuple[int, int]:
    """First and last frame that the other may show while the first shows ``frame``."""
    times = [*scene.desk.times_us, scene.desk.times_us[-1] + 16_667]
    # Times are whole microseconds on either side, so that the edges are good to two of them.
    ends = scene.map.to_second(np.array([times[frame] - 2, times[frame + 1] + 1]) / 1e6) * 1e6
    return frame_at(other.times_us, ends[0]), frame_at(other.times_us, ends[1])


def off_by(scene: BesideScene, other: Other, seen: list[list[int]]) -> list[int]:
    """Frames of difference in each sample."""
    differences = []
    for first, second in seen:
        least, most = allowed(scene, other, first)
        differences.append(max(least - second, second - most, 0))
    return differences


def run(page: Page, rate: str, direction: str, ms: int) -> list[list[int]]:
    page.get_by_role("button", name=rate).click()
    seek(page, 20 if direction == "play" else 140)
    page.locator(f"[data-player] [data-part={direction}]").click()
    seen: list[list[int]] = page.evaluate("ms => window.sample(ms)", ms)
    if page.locator("[data-player] [data-part=play]").inner_text() == "Pause":
        page.locator("[data-player] [data-part=play]").click()
    return seen


def test_one_clock_drives_both_at_every_speed_rate_and_backwards(open_page: OpenPage) -> None:
    scene = make_beside_scene("30", "240", "variable")
    page = at_the_desk(open_page, scene)
    every = [(direction, rate) for direction in ("play", "reverse") for rate in SPEEDS]
    some = [("play", SPEEDS[0]), ("reverse", SPEEDS[1]), ("play", SPEEDS[2])]
    for name, other in {"60": scene.earlier, **scene.references}.items():
        set_beside(page, other)
        for direction, rate in every if other is scene.earlier else some:
            seen = run(page, rate, direction, 800)
            wrong = off_by(scene, other, seen)
            moved = {first for first, _ in seen}
            print(
                f"\n60 beside {name}, {direction} at {rate}: {len(seen)} samples, {len(moved)} frames, "
                f"difference {max(wrong)} frames"
            )
            assert len(seen) > 8 and len(moved) > 2
            assert wrong == [0] * len(seen)


def test_events_and_steps_bring_both_to_the_same_moment(open_page: OpenPage) -> None:
    scene = make_beside_scene("240")
    page = at_the_desk(open_page, scene)
    for other in (scene.earlier, scene.references["240"]):
        set_beside(page, other)
        for name in ("top", "impact", "finish"):
            page.get_by_role("group", name="Go to").get_by_role("button", name=name, exact=True).click()
            expect(page.locator("[data-part=beside-now]")).to_contain_text(name)
            page.wait_for_timeout(150)
            wanted = nearest_frame(other.times_us, OTHER_TIMES[name] * 1e6)
            assert page.evaluate("window.pair()")[1] == wanted
        seek(page, 60)
        for _ in range(5):
            page.get_by_role("button", name="+1: on one frame").click()
            page.wait_for_timeout(120)
        first, second = page.evaluate("window.pair()")
        at_s = scene.map.to_second(np.array([scene.desk.times_us[65] / 1e6]))[0]
        assert (first, second) == (65, nearest_frame(other.times_us, at_s * 1e6))


def test_stepped_alone_locked_by_hand_and_by_events_again(open_page: OpenPage) -> None:
    scene = make_beside_scene()
    page = at_the_desk(open_page, scene)
    set_beside(page, scene.earlier)
    seek(page, 60)
    first, second = page.evaluate("window.pair()")
    for _ in range(3):
        page.get_by_role("button", name="+1: the one beside it on one frame").click()
    page.wait_for_timeout(200)
    assert page.evaluate("window.pair()") == [first, second + 3]
    expect(page.get_by_label("each alone")).to_be_checked()
    page.get_by_role("button", name="+1: on one frame").click()
    page.wait_for_timeout(200)
    assert page.evaluate("window.pair()") == [first + 1, second + 3]
    page.get_by_role("button", name="Lock as they stand").click()
    expect(page.get_by_label("by hand")).to_be_checked()
    apart = second + 3 - first - 1
    seek(page, 90)
    assert page.evaluate("window.pair()") == [90, 90 + apart]
    seen = run(page, "full speed", "play", 900)
    differences = {b - a for a, b in seen}
    print(f"\nlocked by hand {apart} frames apart: {len(seen)} samples, apart by {sorted(differences)}")
    assert differences == {apart}
    page.get_by_label("by events").check()
    seek(page, 60)
    assert page.evaluate("window.pair()") == [first, second]
    kinds = [deed["kind"] for deed in page.evaluate("window.deeds")]
    assert {"pos", "beside", "other", "clip"} <= set(kinds)


def test_numbers_stand_beside_the_pictures_and_two_views_are_not_compared(open_page: OpenPage) -> None:
    scene = make_beside_scene("30")
    page = at_the_desk(open_page, scene)
    set_beside(page, scene.earlier)
    table = page.get_by_role("table", name=re.compile("^This swing and 3 June"))
    row = table.get_by_role("row").filter(has_text="Tempo")
    # 2.71 ± and 3.40: difference -0.69, smallest detectable 1.96 * hypot(0.2, 0.1) = 0.44 (Weir 2005).
    expect(row).to_contain_text("−0.7")
    expect(row).to_contain_text("0.4")
    expect(row).to_contain_text("more than measuring alone makes")
    expect(table.get_by_role("row").filter(has_text="14")).to_contain_text("no more than")
    set_beside(page, scene.references["30"])
    panel = page.locator("[data-part=compare]")
    expect(panel).to_contain_text("Another club: iron here, driver there.")
    expect(panel).to_contain_text("shown mirrored")
    expect(page.get_by_label("mirrored")).to_be_checked()
    page.get_by_label("Set beside it").select_option(label="Clip 2, down-the-line")
    expect(panel).to_contain_text("their numbers don't mean the same")
    assert panel.get_by_role("table").count() == 0


def test_one_over_the_other_feet_on_feet(open_page: OpenPage) -> None:
    scene = make_beside_scene()
    page = at_the_desk(open_page, scene)
    set_beside(page, scene.earlier)
    seek(page, 60)
    page.get_by_label("one over the other").check()
    over = page.locator("[data-part=over]")
    expect(over).to_be_visible()
    page.get_by_label("how much of the other").fill("100")
    painted = page.evaluate(
        f"""() => {{
          const holder = document.createElement("div");
          holder.append(document.querySelector("[data-part=over]").cloneNode());
          const copy = holder.firstChild;
          copy.getContext("2d").drawImage(document.querySelector("[data-part=over]"), 0, 0);
          return ({READ_NUMBER})(holder);
        }}"""
    )
    # The stick figures stand alike, so the second lies on the first as it is, and its number can be read there.
    at_s = scene.map.to_second(np.array([scene.desk.times_us[60] / 1e6]))[0]
    assert painted == nearest_frame(scene.earlier.times_us, at_s * 1e6)
    assert over.evaluate("one => one.style.opacity") == "1"
    page.get_by_label("side by side").check()
    expect(over).to_be_hidden()
    page.get_by_role("button", name="Take it away").click()
    expect(page.locator("[data-part=beside]")).to_be_hidden()


def test_without_a_decoder_both_stand_exactly_and_run_about_together(open_page: OpenPage) -> None:
    scene = make_beside_scene()
    page = at_the_desk(open_page, scene, before="delete window.VideoDecoder;")
    set_beside(page, scene.earlier)
    expect(page.locator("[data-part=beside-exactness]")).to_contain_text("Approximate")
    for frame in (100, 31, 84):
        seek(page, frame)
        page.wait_for_timeout(400)
        at_s = scene.map.to_second(np.array([scene.desk.times_us[frame] / 1e6]))[0]
        assert page.evaluate("window.pair()") == [frame, nearest_frame(scene.earlier.times_us, at_s * 1e6)]
    seen = run(page, "a quarter of the speed", "play", 2000)
    wrong = off_by(scene, scene.earlier, seen[len(seen) // 3 :])
    print(f"\nwithout a decoder: difference median {np.median(wrong):.0f}, worst {max(wrong)} frames")
    assert np.median(wrong) <= 3


@pytest.mark.parametrize("size", [DESKTOP, TABLET, PHONE], ids=["desktop", "tablet", "phone"])
def test_nothing_serious_for_accessibility_and_nothing_too_wide(open_page: OpenPage, size: Any) -> None:
    scene = make_beside_scene()
    page = at_the_desk(open_page, scene, size=size, has_touch=size is not DESKTOP)
    set_beside(page, scene.earlier)
    assert serious_findings(page) == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    boxes = [page.locator(f"[data-part={name}]").bounding_box() for name in ("picture", "beside")]
    assert boxes[0] and boxes[1]
    assert abs(boxes[0]["y"] - boxes[1]["y"]) < 2 and boxes[1]["x"] >= boxes[0]["x"] + boxes[0]["width"] - 1
