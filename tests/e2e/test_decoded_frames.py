"""Frames decoded one by one: which one is shown is read from the picture, what is held is counted outside."""

from __future__ import annotations

import random
import re
import time
from itertools import pairwise
from statistics import median
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Page, Route, expect

from coachhub.accounts.models import User
from coachhub.camps.enums import Role
from coachhub.feedback.domain.reviews import claim_review
from tests import factories
from tests.e2e.clips import READ_NUMBER, give_picture
from tests.e2e.conftest import OpenPage

pytestmark = [pytest.mark.e2e, pytest.mark.django_db(transaction=True), pytest.mark.bench]

KINDS: tuple[dict[str, Any], ...] = (
    {"fps": 30, "count": 120},
    {"fps": 60, "count": 150},
    {"fps": 240, "count": 300},
    {"variable": True, "count": 150},
)
# 48 MB hold six groups of ten pictures of 360 x 640 pixels, 1.5 bytes each: core/decodeplan.js.
MOST_HELD = 60

HELPERS = f"""
window.read = {READ_NUMBER};
window.player = () => document.querySelector("[data-player]");
window.onScreen = () => window.read(window.player());
window.shownBy = (act) => new Promise((done) => {{
  const start = performance.now();
  const told = (event) => done([event.detail.frame, performance.now() - start]);
  window.player().addEventListener("player:frame", told, {{once: true}});
  act();
}});
window.seek = (frame) => window.shownBy(() => {{
  const bar = window.player().querySelector("[data-part=bar]");
  bar.value = frame;
  bar.dispatchEvent(new Event("input"));
}});
window.press = (part) => window.player().querySelector(`[data-part=${{part}}]`).click();
window.watched = [];
window.watch = () => {{
  window.watched = [];
  const keep = (event) => window.watched.push([event.detail.frame, window.onScreen()]);
  window.player().addEventListener("player:frame", keep);
}};
"""
SEEKS = """async (wanted) => {
  const seen = [];
  for (const frame of wanted) {
    const [told, ms] = await window.seek(frame);
    seen.push([frame, told, window.onScreen(), ms]);
  }
  return seen;
}"""
STEPS = """async (parts) => {
  const seen = [];
  for (const part of parts) {
    const [told, ms] = await window.shownBy(() => window.press(part));
    seen.push([told, window.onScreen(), ms]);
    await new Promise((done) => requestAnimationFrame(done));
  }
  return seen;
}"""
MOST_TIMES_PLAIN = 3
# The screen changes sixty times a second: what waits for its next turn isn't slow.
DISPLAY_TURN_MS = 1000 / 60
PLAIN_SEEKS = """async (frames) => {
  const film = document.createElement("video");
  film.muted = true;
  film.preload = "auto";
  film.src = window.player().querySelector("video").currentSrc || window.player().querySelector("video").src;
  const next = (name) => new Promise((done) => film.addEventListener(name, done, {once: true}));
  await next("loadeddata");
  const took = [];
  for (const frame of frames) {
    const start = performance.now(), there = next("seeked");
    film.currentTime = (frame + 0.5) / 60;
    await there;
    took.push(performance.now() - start);
  }
  return took;
}"""
# Counts pictures between the decoder's output and their close(), without asking the player.
COUNT_PICTURES = """
window.held = {now: 0, most: 0, made: 0};
const Decoder = window.VideoDecoder;
window.VideoDecoder = class extends Decoder {
  constructor({output, error}) {
    super({error, output: (picture) => {
      window.held.made += 1;
      window.held.now += 1;
      window.held.most = Math.max(window.held.most, window.held.now);
      output(picture);
    }});
  }
};
const close = VideoFrame.prototype.close;
VideoFrame.prototype.close = function () {
  if (this.codedWidth > 0) window.held.now -= 1;
  close.call(this);
};
"""


def make_desk(*kinds: dict[str, Any]) -> tuple[User, str]:
    cohort = factories.make_cohort()
    coach = factories.make_user("Ines Falk")
    factories.join(coach, cohort, Role.COACH)
    submission = factories.make_submission(factories.make_student(cohort, "Tomi Aalto"), cohort)
    for kind in kinds:
        give_picture(factories.make_clip(submission), **kind)
    review = claim_review(factories.make_review(submission), by=coach, now=timezone.now())
    return coach, f"/coach/desk/{review.public_id}/"


def open_desk(open_page: OpenPage, *kinds: dict[str, Any], before: str = "", answer: Any = None) -> Page:
    coach, path = make_desk(*kinds)
    page = open_page(coach, "/account/")
    page.add_init_script(HELPERS + before)
    if answer is not None:
        page.route("**/media/clip.rendition/**", answer)
    page.goto(path)
    wait_for(page, f"of {kinds[0]['count']}")
    return page


def wait_for(page: Page, words: str) -> None:
    expect(page.locator("[data-part=now]")).to_have_text(re.compile(words))


def expect_decoded(page: Page) -> None:
    expect(page.locator("[data-part=canvas]")).to_be_visible()
    expect(page.locator("[data-part=exactness]")).to_be_hidden()


def test_two_hundred_random_seeks_at_each_rate_show_the_very_frame(open_page: OpenPage) -> None:
    page = open_desk(open_page, *KINDS)
    for number, kind in enumerate(KINDS):
        page.locator("[data-swing-choice]").nth(number).click()
        wait_for(page, f"of {kind['count']}")
        expect_decoded(page)
        wanted = random.Random(number).choices(range(kind["count"]), k=200)
        seen = page.evaluate(SEEKS, wanted)
        off = [(frame, told, read) for frame, told, read, _ in seen if not frame == told == read]
        times = sorted(ms for *_, ms in seen)
        name = f"{kind.get('fps', 'variable')} fps" if "fps" in kind else "variable rate"
        print(
            f"\n{name}: {len(off)} of {len(seen)} seeks off; median {times[100]:.0f} ms, p95 {times[190]:.0f} ms"
        )
        assert len(seen) == 200 and off == []


def test_a_step_is_not_slower_than_the_browsers_own_way_to_a_frame(open_page: OpenPage) -> None:
    """50 ms a step is what feels at once; whether this machine holds it is printed. The yardstick is the browser's
    own seek to the same frames of the same film, which decodes them too."""
    page = open_desk(open_page, {"fps": 60, "count": 120, "scale": 2})
    expect_decoded(page)
    page.evaluate("window.seek(20)")
    seen = page.evaluate(STEPS, ["forward"] * 80 + ["back"] * 80)
    assert (
        [told for told, *_ in seen] == [read for _, read, _ in seen] == [*range(21, 101), *range(99, 19, -1)]
    )
    times = sorted(ms for *_, ms in seen)
    plain = median(page.evaluate(PLAIN_SEEKS, [told for told, *_ in seen][:80]))
    print(
        f"\nsteps at 720 x 1280: median {median(times):.1f} ms, p95 {times[151]:.1f} ms, worst {times[-1]:.1f} ms "
        f"(bar 50 ms: {'meets' if median(times) < 50 else 'MISSES'}); the browser's own seek {plain:.1f} ms"
    )
    assert median(times) < MOST_TIMES_PLAIN * max(plain, DISPLAY_TURN_MS)


@pytest.mark.parametrize("rate,one_by_one", [("an eighth of the speed", True), ("full speed", False)])
def test_playing_backwards_shows_every_frame_in_order(
    open_page: OpenPage, rate: str, one_by_one: bool
) -> None:
    page = open_desk(open_page, KINDS[1])
    page.get_by_role("button", name=rate).click()
    page.evaluate("window.seek(149)")
    page.evaluate("window.watch()")
    began = time.monotonic()
    page.get_by_role("button", name="Reverse").click()
    if one_by_one:
        page.wait_for_timeout(2500)
        page.evaluate("window.press('play')")
    lasted_s = time.monotonic() - began
    expect(page.locator("[data-part=play]")).to_have_text("Play")
    seen = page.evaluate("window.watched")
    told = [frame for frame, _ in seen]
    steps = [a - b for a, b in pairwise(told)]
    print(
        f"\nbackwards at {rate}: {len(told)} frames from {told[0]} to {told[-1]}, steps {sorted(set(steps))}"
    )
    assert told == [read for _, read in seen]
    if one_by_one:
        # The last is the frame on which it was stopped, told once more.
        assert steps[:-1] == [1] * (len(steps) - 1) and steps[-1] in (0, 1)
        # 2.5 s at an eighth of 60 frames a second are 18.75 frames; a busy machine may lose some, but never adds any.
        assert 5 <= len(told) <= lasted_s * 60 / 8 + 2
    else:
        assert told == sorted(told, reverse=True) and told[-1] == 0
        assert len(told) > 10  # a screen of 60 pictures a second shows 149, a busy machine fewer


def test_wheel_and_drag_go_frame_by_frame(open_page: OpenPage) -> None:
    page = open_desk(open_page, KINDS[1])
    page.evaluate("window.seek(60)")
    box = page.locator("[data-part=picture]").bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.wheel(0, 400)
    page.wait_for_timeout(200)
    assert page.evaluate("window.onScreen()") == 60  # the page scrolls; the picture hasn't the focus
    page.evaluate("scrollTo(0, 0)")
    page.locator("[data-part=stage]").focus()
    page.mouse.wheel(0, 400)
    wait_for(page, "^Frame 71 of")
    page.mouse.wheel(0, -120)
    wait_for(page, "^Frame 68 of")
    page.mouse.down()
    page.mouse.move(x + 80, y, steps=5)
    wait_for(page, "^Frame 78 of")
    page.mouse.move(x - 160, y, steps=10)
    page.mouse.up()
    wait_for(page, "^Frame 48 of")
    page.mouse.move(x + 50, y)
    assert page.evaluate("window.onScreen()") == 47
    finger_drag(page, (x, y), (x + 80, y))
    wait_for(page, "^Frame 58 of")


def finger_drag(page: Page, start: tuple[float, float], end: tuple[float, float]) -> None:
    """A finger on the picture, as the browser itself takes touches in."""
    hand = page.context.new_cdp_session(page)
    steps = [
        (start[0] + (end[0] - start[0]) * i / 5, start[1] + (end[1] - start[1]) * i / 5) for i in range(6)
    ]
    for number, (x, y) in enumerate(steps):
        kind = "touchMove" if number else "touchStart"
        hand.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [{"x": x, "y": y}]})
    hand.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    hand.detach()


def test_a_minute_of_film_never_holds_more_than_its_bound(open_page: OpenPage) -> None:
    page = open_desk(open_page, {"fps": 25, "count": 1500}, {"count": 30}, before=COUNT_PICTURES)
    expect_decoded(page)
    page.get_by_role("button", name="full speed").click()
    for part, frame in (("play", 250), ("reverse", 1250)):
        page.evaluate(f"window.seek({frame})")
        page.evaluate(f"window.press('{part}')")
        page.wait_for_timeout(2000)
        page.evaluate("window.press('play')")
    seen = page.evaluate(SEEKS, random.Random(2).choices(range(1500), k=120))
    assert [told for _, told, *_ in seen] == [read for _, _, read, _ in seen]
    held = page.evaluate("window.held")
    print(f"\n60 s: {held['made']} pictures decoded, never more than {held['most']} held (bound {MOST_HELD})")
    assert held["made"] > 5 * MOST_HELD
    assert 20 <= held["most"] <= MOST_HELD
    page.locator("[data-swing-choice]").nth(1).click()
    wait_for(page, "of 30")
    page.wait_for_timeout(300)
    assert (
        page.evaluate("window.held.now") <= 30
    )  # the other clip's three groups; nothing of the first is left


def test_without_a_decoder_the_video_takes_its_place_and_says_so(open_page: OpenPage) -> None:
    page = open_desk(open_page, KINDS[1], before="delete window.VideoDecoder;")
    expect_fallback(page)
    seen = page.evaluate(SEEKS, [140, 3, 77, 78, 12])
    assert [(frame, frame, frame) for frame, *_ in seen] == [
        (frame, told, read) for frame, told, read, _ in seen
    ]


def test_a_decoder_that_breaks_hands_over_at_the_same_frame(open_page: OpenPage) -> None:
    breaks = "VideoDecoder.prototype.flush = async () => { throw new Error('broken on purpose'); };"
    page = open_desk(open_page, KINDS[1])
    expect_decoded(page)
    page.evaluate(f"() => {{ {breaks} }}")
    page.evaluate("window.seek(100)")
    expect_fallback(page)
    wait_for(page, "^Frame 101 of")
    assert page.evaluate("window.onScreen()") == 100


def test_who_goes_elsewhere_while_the_other_player_loads_stays_there(open_page: OpenPage) -> None:
    page = open_desk(open_page, KINDS[1])
    expect_decoded(page)
    page.evaluate(
        """() => {
          VideoDecoder.prototype.flush = async () => { throw new Error("broken on purpose"); };
          const source = Object.getOwnPropertyDescriptor(HTMLMediaElement.prototype, "src");
          // The other player opens the clip: now, and before its picture is there, somebody asks for another frame.
          Object.defineProperty(HTMLMediaElement.prototype, "src", {
            ...source, set(value) { source.set.call(this, value); void window.seek(60); },
          });
          void window.seek(100);
        }"""
    )
    expect_fallback(page)
    wait_for(page, "^Frame 61 of")
    assert page.evaluate("window.onScreen()") == 60


def expect_fallback(page: Page) -> None:
    expect(page.locator("[data-part=exactness]")).to_contain_text("Approximate")
    expect(page.locator("[data-part=canvas]")).to_be_hidden()
    expect(page.locator("[data-part=reverse]")).to_be_hidden()
    page.wait_for_function("window.player().querySelector('video').readyState >= 2")


def test_an_address_that_ran_out_and_a_lost_network_only_cost_time(open_page: OpenPage) -> None:
    faults = ["403", "lost", "lost"]

    def answer(route: Route) -> None:
        # Only the reader of parts names a last byte; the video behind it asks for all the rest.
        if not faults or not re.fullmatch(r"bytes=\d+-\d+", route.request.headers.get("range", "")):
            route.continue_()
        elif faults.pop(0) == "403":
            route.fulfill(status=403, body="out of date")
        else:
            route.abort()

    page = open_desk(open_page, KINDS[1], answer=answer)
    assert faults == []
    assert page.evaluate("window.onScreen()") == 0
    expect_decoded(page)
    expect(page.locator("[data-part=trouble]")).to_be_hidden()
