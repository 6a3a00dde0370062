"""A coach's work at the desk: drawing, judging, correcting, recording, writing, publishing."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from coachhub.feedback.models import Mark, Message, Moment, Review, VoiceNote
from coachhub.swings.models import EventCorrection, SignJudgement
from tests.e2e.axe import serious_findings
from tests.e2e.conftest import DESKTOP, PHONE, OpenPage
from tests.e2e.desk_scene import at_the_desk, make_desk_scene

pytestmark = [
    pytest.mark.e2e,
    pytest.mark.django_db(transaction=True),
    pytest.mark.usefixtures("work_at_once"),
]

TABLET = {"width": 1024, "height": 768}
ONE_REVISION_LATER = re.compile(r"^Saved \d")


def on_screen(page: Page, *shares: tuple[float, float]) -> list[tuple[float, float]]:
    """Places of the picture itself, whose place inside the stage the browser knows."""
    box = page.evaluate(
        """() => {
          const layer = document.querySelector("[data-part=marks]");
          const {a, d, e, f} = layer.getScreenCTM();
          const [, , width, height] = layer.getAttribute("viewBox").split(" ").map(Number);
          return [e, f, a * width, d * height];
        }"""
    )
    return [(box[0] + x * box[2], box[1] + y * box[3]) for x, y in shares]


def drag(page: Page, *shares: tuple[float, float]) -> None:
    points = on_screen(page, *shares)
    page.mouse.move(*points[0])
    page.mouse.down()
    for point in points[1:]:
        page.mouse.move(*point, steps=4)
    page.mouse.up()


def pen_stroke(page: Page, force: float, *shares: tuple[float, float]) -> None:
    """As a pen on the screen reports itself: with how hard it is pressed."""
    pen = page.context.new_cdp_session(page)
    points = on_screen(page, *shares)
    kinds = ["mousePressed", *["mouseMoved"] * (len(points) - 1), "mouseReleased"]
    for kind, (x, y) in zip(kinds, [*points, points[-1]], strict=True):
        up = {
            "force": 0.0 if kind == "mouseReleased" else force,
            "buttons": 0 if kind == "mouseReleased" else 1,
        }
        what = {"type": kind, "x": x, "y": y, "button": "left", "clickCount": 1, "pointerType": "pen"}
        pen.send("Input.dispatchMouseEvent", what | up)
    pen.detach()


def saved(page: Page) -> None:
    expect(page.locator("[data-part=saved]")).to_have_text(ONE_REVISION_LATER)


def test_drawings_survive_undo_redo_and_a_reload(open_page: OpenPage) -> None:
    scene = make_desk_scene()
    page = at_the_desk(open_page, scene)
    tool = page.get_by_role("group", name="Drawing", exact=True)
    tool.get_by_role("button", name="Line").click()
    drag(page, (0.3, 0.2), (0.6, 0.8))
    tool.get_by_role("button", name="Angle").click()
    drag(page, (0.5, 0.2), (0.5, 0.5))
    drag(page, (0.78125, 0.5), (0.78125, 0.5))
    expect(page.locator(".mark-word").last).to_have_text("90°")
    page.get_by_label("What it shows, in a sentence").fill("the lead arm and the shaft")
    page.get_by_label("Words on the picture").fill("L")
    page.locator("[data-part=stage]").focus()
    tool.get_by_role("button", name="Free", exact=True).click()
    drag(page, (0.2, 0.7), (0.3, 0.75), (0.4, 0.7))
    expect(page.locator(".mark")).to_have_count(3)
    page.locator("[data-part=stage]").focus()
    page.keyboard.press("Control+z")
    expect(page.locator(".mark")).to_have_count(2)
    page.keyboard.press("Control+Shift+Z")
    expect(page.locator(".mark")).to_have_count(3)
    page.keyboard.press("Control+z")
    saved(page)
    page.reload()
    expect(page.locator(".mark")).to_have_count(2)
    kinds = list(Mark.objects.order_by("order").values_list("kind", "label", "note"))
    assert kinds == [("line", "", ""), ("angle", "L", "the lead arm and the shaft")]
    line = Mark.objects.get(kind="line")
    assert line.points == [pytest.approx([0.3, 0.2], abs=0.005), pytest.approx([0.6, 0.8], abs=0.005)]
    assert line.from_us == scene.times_us[12]
    restyled_and_copied(page, scene.times_us)
    pressed_hard_and_lightly(page)


def restyled_and_copied(page: Page, times_us: list[int]) -> None:
    page.get_by_role("button", name=re.compile("^Line, .*no note yet")).click()
    page.get_by_label("Line", exact=True).select_option("strong")
    page.get_by_label("dashed").check()
    expect(page.locator(".mark.strong.dashed")).to_have_count(1)
    page.locator("[data-part=bar]").fill("80")
    page.get_by_role("button", name="Copy to this frame").click()
    expect(page.locator(".mark.strong.dashed.selected")).to_have_count(1)
    saved_marks(page, 3)
    first, copy = Mark.objects.filter(kind="line").order_by("from_us")
    assert (copy.from_us, copy.points, copy.weight, copy.is_dashed) == (
        times_us[80],
        first.points,
        "strong",
        True,
    )
    assert copy.to_us - copy.from_us == first.to_us - first.from_us


def pressed_hard_and_lightly(page: Page) -> None:
    tool = page.get_by_role("group", name="Drawing", exact=True)
    for force, y in ((0.9, 0.8), (0.1, 0.9)):
        tool.get_by_role("button", name="Free", exact=True).click()
        pen_stroke(page, force, (0.2, y), (0.3, y - 0.05), (0.4, y), (0.5, y - 0.04))
    saved_marks(page, 5)
    assert list(Mark.objects.filter(kind="path").values_list("weight", flat=True)) == ["strong", "thin"]


def saved_marks(page: Page, count: int) -> None:
    """Drawings are sent a moment after the last change; the server then has all of them."""
    for _ in range(60):
        if Mark.objects.count() == count:
            break
        page.wait_for_timeout(100)
    saved(page)
    assert Mark.objects.count() == count


def test_a_drawing_without_a_single_drag(open_page: OpenPage) -> None:
    scene = make_desk_scene()
    page = at_the_desk(open_page, scene)
    page.get_by_role("button", name="Arrow").focus()
    page.keyboard.press("Enter")
    expect(page.locator(".mark.selected")).to_have_count(1)
    page.get_by_label("Move", exact=True).select_option("1")
    page.get_by_role("button", name="Right", exact=True).click()
    page.locator("[data-part=stage]").focus()
    page.keyboard.press("Shift+ArrowDown")
    saved(page)
    tail, tip = Mark.objects.get(kind="arrow").points
    assert tip[0] - tail[0] > 0.15
    assert tail[1] > 0.6
    page.keyboard.press("Delete")
    expect(page.locator(".mark")).to_have_count(0)
    saved(page)
    expect(page.locator("[data-part=saved]")).not_to_have_text("Saving…")
    page.wait_for_timeout(2500)
    assert not Mark.objects.exists()


def test_two_taps_make_a_line_and_a_moment_gets_its_sentence(open_page: OpenPage) -> None:
    scene = make_desk_scene()
    page = at_the_desk(open_page, scene, size=PHONE, has_touch=True)
    page.get_by_role("button", name="Line", exact=True).click()
    drag(page, (0.4, 0.4), (0.4, 0.4))
    drag(page, (0.6, 0.6), (0.6, 0.6))
    expect(page.locator(".mark")).to_have_count(1)
    page.get_by_label("Moment at the shown frame").fill("hands behind the ball")
    page.get_by_role("button", name="Add", exact=True).click()
    saved(page)
    assert list(Moment.objects.values_list("at_us", "note")) == [
        (scene.times_us[12], "hands behind the ball")
    ]


def test_a_verdict_and_a_corrected_event(open_page: OpenPage, monkeypatch: pytest.MonkeyPatch) -> None:
    scene = make_desk_scene()
    monkeypatch.setattr(
        "coachhub.swings.domain.corrections.remeasured",
        lambda folder, data, corrections: (
            data | {"events": data["events"] | {"top": {"t": corrections.events["top"], "se": 0.0}}}
        ),
    )
    page = at_the_desk(open_page, scene)
    page.get_by_role("button", name="Agree: early release").click()
    expect(page.get_by_role("button", name="Agree: early release")).to_have_attribute("aria-pressed", "true")
    judged = SignJudgement.objects.get()
    assert (judged.verdict, judged.at_s) == ("agree", pytest.approx(0.2, abs=0.001))
    judged_by_one_key(page)
    page.locator("[data-part=bar]").fill("70")
    expect(page.locator("[data-part=now]")).to_contain_text("Frame 71 of")
    page.get_by_label("Wrong frame?").locator("visible=true").select_option("top")
    page.get_by_role("button", name="Set it to the shown frame").locator("visible=true").click()
    expect(page.locator("[data-part=now]")).to_have_text(re.compile("Frame 71 of .*top"))
    assert EventCorrection.objects.get().t_s == pytest.approx(70 / 60, abs=0.0005)
    expect(page.locator("[data-card]:visible")).to_contain_text("set by a coach")
    # The same by dragging the event's peg along the bar: the picture follows, the numbers are new when it is let go.
    peg = page.locator("[data-peg=top]").bounding_box()
    row = page.locator("[data-part=pegs]").bounding_box()
    assert peg is not None and row is not None
    page.mouse.move(peg["x"] + peg["width"] / 2, peg["y"] + 5)
    page.mouse.down()
    page.mouse.move(row["x"] + row["width"] * 0.40, peg["y"] + 5, steps=6)
    shown = page.locator("[data-part=now]").text_content() or ""
    expect(page.locator(".peg-name")).to_have_text("top")
    page.mouse.up()
    frame = int(re.search(r"Frame (\d+)", shown)[1])  # type: ignore[index]
    assert frame != 71
    expect(page.locator("[data-part=now]")).to_have_text(re.compile(f"Frame {frame} of .*top"))
    assert EventCorrection.objects.get().t_s == pytest.approx((frame - 1) / 60, abs=0.0005)
    # Let go with Escape, it stays where it was.
    peg = page.locator("[data-peg=top]").bounding_box()
    assert peg is not None
    page.mouse.move(peg["x"] + peg["width"] / 2, peg["y"] + 5)
    page.mouse.down()
    page.mouse.move(row["x"] + row["width"] * 0.9, peg["y"] + 5, steps=3)
    page.keyboard.press("Escape")
    page.mouse.up()
    expect(page.locator("[data-part=now]")).to_have_text(re.compile(f"Frame {frame} of .*top"))
    assert EventCorrection.objects.get().t_s == pytest.approx((frame - 1) / 60, abs=0.0005)


def judged_by_one_key(page: Page) -> None:
    """E shows the frame behind the sign at hand, Y, N and C say what the coach thinks, S takes the next sign."""
    stage, shown = page.locator("[data-part=stage]"), page.locator("[data-part=now]")
    stage.focus()
    page.keyboard.press("e")
    expect(shown).to_contain_text("Frame 76 of")
    for key, verdict in (("n", "not_this"), ("c", "cant_tell"), ("y", "agree")):
        with page.expect_response("**/judge/"):
            page.keyboard.press(key)
        assert SignJudgement.objects.latest("pk").verdict == verdict
        expect(stage).to_be_focused()
    assert SignJudgement.objects.latest("pk").at_s == pytest.approx(75 / 60, abs=0.001)
    page.keyboard.press("s")
    expect(page.locator(".is-at-hand")).to_contain_text("talled finish")
    with page.expect_response("**/judge/"):
        page.keyboard.press("n")
    assert SignJudgement.objects.latest("pk").sign == "stalled_finish"


@pytest.mark.bench
def test_a_voice_note_from_the_microphone(open_page: OpenPage) -> None:
    scene = make_desk_scene()
    page = at_the_desk(open_page, scene)
    page.get_by_role("button", name="Record", exact=True).click()
    expect(page.get_by_text("Recording.", exact=True)).to_be_visible()
    page.wait_for_timeout(1500)
    page.get_by_role("button", name="Pause").click()
    page.wait_for_timeout(600)
    page.get_by_role("button", name="Go on").click()
    page.wait_for_timeout(600)
    page.get_by_role("button", name="Stop").click()
    page.get_by_role("button", name="Keep it").click()
    expect(page.locator(".note audio")).to_have_count(1)
    note = VoiceNote.objects.get()
    assert (note.swing, note.at_us, note.job_state) == (scene.swing, scene.times_us[12], "done")
    assert 1_500 <= note.duration_ms <= 4_000
    expect(page.get_by_text("a student who can't hear gets nothing")).to_be_visible()
    page.locator(".note textarea").fill("slow back, wait at the top")
    page.get_by_role("button", name="Keep the words").click()
    expect(page.get_by_text("Words kept.")).to_be_visible()
    note.refresh_from_db()
    assert note.caption == "slow back, wait at the top"
    kept_and_put_in_again(page, scene.times_us)
    heard = page.evaluate(
        """async () => {
          const audio = document.querySelector(".note audio");
          await audio.play();
          return audio.duration;
        }"""
    )
    assert heard == pytest.approx(note.duration_ms / 1000, abs=0.1)


def kept_and_put_in_again(page: Page, times_us: list[int]) -> None:
    """Kept under a title, the recording is put into an answer at the shown frame."""
    page.get_by_text("Keep it for other answers").click()
    page.get_by_label("Title").fill("Wait at the top")
    page.get_by_role("button", name="Keep recording 1").click()
    expect(page.get_by_text("Kept for other answers.")).to_be_visible()
    page.locator("[data-part=bar]").fill("66")
    page.get_by_text("Explanations you kept (1)").click()
    page.get_by_role("button", name="Put it in: Wait at the top").click()
    expect(page.get_by_text("Put in. It is heard at the shown frame.")).to_be_visible()
    put = VoiceNote.objects.latest("pk")
    assert (put.at_us, put.caption) == (times_us[66], "slow back, wait at the top")


def test_a_refused_microphone_has_a_way_on(open_page: OpenPage) -> None:
    scene = make_desk_scene()
    page = at_the_desk(open_page, scene)
    page.evaluate(
        "navigator.mediaDevices.getUserMedia = async () => { throw new DOMException('no', 'NotAllowedError'); }; null"
    )
    page.get_by_role("button", name="Record", exact=True).click()
    expect(page.get_by_text("The microphone is not allowed.")).to_be_visible()
    expect(page.get_by_label("Sound file")).to_be_visible()


def test_two_windows_never_overwrite_each_other_and_nothing_is_lost(open_page: OpenPage) -> None:
    scene = make_desk_scene()
    first, second = at_the_desk(open_page, scene), at_the_desk(open_page, scene)
    first.get_by_label("Keep", exact=True).fill("the tempo")
    saved(first)
    second.get_by_label("Keep", exact=True).fill("the finish")
    expect(second.locator("[data-part=saved]")).to_contain_text("changed in another window")
    assert Review.objects.get(pk=scene.review.pk).keep == "the tempo"
    second.reload()
    expect(second.get_by_label("Keep", exact=True)).to_have_value("the tempo")
    second.get_by_role("button", name="Bring them back").click()
    expect(second.get_by_label("Keep", exact=True)).to_have_value("the finish")
    saved(second)
    assert Review.objects.get(pk=scene.review.pk).keep == "the finish"


def test_without_a_connection_the_words_wait_on_the_device(open_page: OpenPage) -> None:
    scene = make_desk_scene()
    page = at_the_desk(open_page, scene)
    page.context.set_offline(True)
    page.get_by_label("Cue", exact=True).fill("brush the turf")
    expect(page.locator("[data-part=saved]")).to_contain_text("No connection")
    kept = json.loads(page.evaluate(f"localStorage.getItem('desk:{scene.review.public_id}')"))
    assert kept["fields"]["cue"] == "brush the turf"
    page.context.set_offline(False)
    saved(page)
    assert Review.objects.get(pk=scene.review.pk).cue == "brush the turf"
    assert page.evaluate(f"localStorage.getItem('desk:{scene.review.public_id}')") is None


def test_a_double_click_publishes_once(open_page: OpenPage) -> None:
    scene = make_desk_scene()
    page = at_the_desk(open_page, scene)
    page.get_by_label("The one thing to work on").fill("let the turf come first")
    page.get_by_role("button", name="Look over and publish").click()
    page.wait_for_url("**/check/")
    expect(page.get_by_text("let the turf come first")).to_be_visible()
    page.get_by_role("button", name="Publish", exact=True).dblclick()
    page.wait_for_url("**/coach/")
    assert Review.objects.get(pk=scene.review.pk).state == "published"
    assert Message.objects.filter(review=scene.review).count() == 1


@pytest.mark.parametrize("size", [DESKTOP, TABLET, PHONE], ids=["desktop", "tablet", "phone"])
def test_nothing_serious_for_accessibility(open_page: OpenPage, size: Any) -> None:
    scene = make_desk_scene()
    page = at_the_desk(open_page, scene, size=size)
    page.get_by_role("button", name="Ellipse").focus()
    page.keyboard.press("Enter")
    expect(page.locator(".mark.selected")).to_have_count(1)
    for summary in page.locator("details:not([open]) > summary").all():
        if summary.is_visible():
            summary.click()
    assert serious_findings(page) == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    page.get_by_label("The one thing to work on").fill("let the turf come first")
    page.get_by_role("button", name="Look over and publish").click()
    page.wait_for_url("**/check/")
    expect(page.locator("[data-part=now]")).to_have_text(re.compile("^Frame"))
    assert serious_findings(page) == []
