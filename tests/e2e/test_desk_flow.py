"""A whole review at the desk: few hands, a lost network, the next one at hand, and what the student then sees."""

from __future__ import annotations

import re
import time
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Locator, Page, expect

from coachhub.feedback.models import Comparison, Mark, Review
from coachhub.swings.models import JointCorrection, SignJudgement
from tests import factories
from tests.e2e.beside_scene import BesideScene, make_beside_scene
from tests.e2e.clips import give_picture
from tests.e2e.conftest import PHONE, OpenPage
from tests.e2e.test_beside import HELPERS, at_the_desk, seek, set_beside
from tests.e2e.test_desk_work import drag

pytestmark = [
    pytest.mark.e2e,
    pytest.mark.django_db(transaction=True),
    pytest.mark.usefixtures("work_at_once"),
]

MOST_INTERACTIONS = 14
# Long enough for several attempts of everything that tries again by itself.
OUTAGE_MS = 12_000


class Hands:
    """Does what a person does, and counts it: a press, a choice, a field filled."""

    def __init__(self) -> None:
        self.done: list[str] = []

    def press(self, thing: Locator, what: str) -> None:
        thing.click()
        self.done.append(what)

    def choose(self, thing: Locator, what: str, **option: Any) -> None:
        thing.select_option(**option)
        self.done.append(what)

    def write(self, thing: Locator, text: str, what: str) -> None:
        thing.fill(text)
        self.done.append(what)


def with_another_waiting(scene: BesideScene) -> Review:
    student = factories.make_student(scene.desk.review.submission.cohort, "Next Inline")
    submission = factories.make_submission(student, scene.desk.review.submission.cohort)
    clip = factories.make_clip(submission)
    give_picture(clip, count=90)
    return factories.make_review(submission, due_at=timezone.now())


def answered_before(scene: BesideScene) -> None:
    factories.make_review(
        scene.earlier.swing.clip.submission,
        state="published",
        published_at=timezone.now(),
        published_by=scene.desk.coach,
        priority="a slower first foot of the backswing",
        cue="count to two",
    )


def test_from_opening_to_publishing_in_few_hands_through_a_lost_network(open_page: OpenPage) -> None:
    scene = make_beside_scene()
    answered_before(scene)
    following = with_another_waiting(scene)
    Review.objects.filter(pk=scene.desk.review.pk).update(
        state="waiting", claimed_by=None, due_at=timezone.now() - timezone.timedelta(hours=1)
    )
    hands = Hands()
    page = open_page(scene.desk.coach, "/coach/")
    page.add_init_script(HELPERS)
    waited = [-time.monotonic()]
    hands.press(page.get_by_role("button", name=re.compile("^Review Tomi Aalto")), "open the review")
    expect(page.locator("[data-part=now]")).to_have_text(re.compile("^Frame"))
    waited[0] += time.monotonic()
    expect(page.get_by_text("Last time (")).to_be_visible()
    expect(page.get_by_text("a slower first foot of the backswing").first).to_be_visible()

    hands.press(page.get_by_role("button", name="Last time's"), "set last time's beside it")
    expect(page.locator("[data-part=beside-now]")).to_have_text(re.compile("^Frame"))
    expect(page.locator("html[data-ahead]")).to_have_count(1)

    page.context.set_offline(True)
    hands.press(page.get_by_role("button", name="Agree: early release"), "agree with a sign")
    expect(page.get_by_text("sent as soon as it is back").first).to_be_visible()
    hands.press(page.get_by_role("button", name="Put it in"), "put the pair into the answer")
    hands.write(page.get_by_label("Keep", exact=True), "the calm start", "keep")
    hands.write(page.get_by_label("The one thing to work on"), "let the turf come first", "priority")
    expect(page.locator("[data-part=saved]")).to_contain_text("No connection")
    page.wait_for_timeout(OUTAGE_MS)
    assert not SignJudgement.objects.exists() and not Comparison.objects.exists()
    page.context.set_offline(False)
    expect(page.locator("[data-part=saved]")).to_have_text(re.compile(r"^Saved \d"))
    expect(page.locator("[data-kept]")).to_have_count(1)
    expect(page.get_by_role("button", name="Agree: early release")).to_have_attribute("aria-pressed", "true")
    hands.choose(page.get_by_label("Drill", exact=True), "drill", index=1)
    hands.write(page.get_by_label("Your words to the student"), "Look at the two side by side.", "words")
    hands.press(page.get_by_role("button", name="Look over and publish"), "look over")
    page.wait_for_url("**/check/")
    waited.append(-time.monotonic())
    hands.press(page.get_by_role("button", name="Publish and take the next"), "publish, and the next")
    expect(page.locator("h1")).to_contain_text("Next Inline")
    expect(page.locator("[data-part=now]")).to_have_text(re.compile("of 90"))
    waited[1] += time.monotonic()

    fetched = page.evaluate(
        """() => performance.getEntriesByType("resource")
          .filter((one) => one.name.includes("/media/clip."))
          .map((one) => [one.name.split("/media/")[1].split("/")[0], one.transferSize])"""
    )
    print(f"\n{len(hands.done)} interactions: {', '.join(hands.done)}")
    print(f"the first frame is there after {waited[0]:.1f} s, the next student's after {waited[1]:.1f} s")
    print(f"the next one's media, bytes over the network: {fetched}")
    assert len(hands.done) <= MOST_INTERACTIONS
    assert fetched and all(size == 0 for kind, size in fetched if kind == "clip.index")
    scene.desk.review.refresh_from_db()
    review = scene.desk.review
    assert (review.state, review.keep, review.priority) == (
        "published",
        "the calm start",
        "let the turf come first",
    )
    assert SignJudgement.objects.get().verdict == "agree"
    assert Comparison.objects.get().second == scene.earlier.swing
    following.refresh_from_db()
    assert following.claimed_by == scene.desk.coach


TAB_TO = """(selector) => {
  const here = document.activeElement;
  return here.matches(selector) && here.matches(":focus-visible");
}"""


def tab_to(page: Page, selector: str, *, back: bool = False) -> None:
    """To the next thing that fits, as somebody without a pointer gets there, and it shows that it has the focus."""
    for _ in range(250):
        page.keyboard.press("Shift+Tab" if back else "Tab")
        if page.evaluate(TAB_TO, selector):
            return
    raise AssertionError(f"no way to {selector} by the Tab key")


def test_a_whole_review_by_the_keyboard_alone(open_page: OpenPage) -> None:
    """No pointer touches the page: see, judge, compare, draw, talk, write, publish."""
    scene = make_beside_scene()
    answered_before(scene)
    said_before(scene)
    Review.objects.filter(pk=scene.desk.review.pk).update(
        state="waiting", claimed_by=None, due_at=timezone.now() - timezone.timedelta(hours=1)
    )
    page = open_page(scene.desk.coach, "/coach/")
    keys, shown = page.keyboard, page.locator("[data-part=now]")
    tab_to(page, "[data-open]")
    keys.press("Enter")
    expect(shown).to_have_text(re.compile("^Frame"))
    tab_to(page, "#beside-choice")
    keys.press("ArrowDown")
    expect(page.locator("[data-part=beside-now]")).to_have_text(re.compile("^Frame"))
    tab_to(page, "[data-part=stage]")
    keys.press("e")
    expect(shown).to_contain_text("Frame 76 of")
    with page.expect_response("**/judge/"):
        keys.press("y")
    keys.press("PageDown")
    expect(shown).to_contain_text("impact")
    tab_to(page, "[data-tool=arrow]")
    keys.press("Enter")
    tab_to(page, "[data-part=stage]", back=True)
    for key in ("ArrowRight", "Shift+ArrowDown", "Escape"):
        keys.press(key)
    tab_to(page, "#answer-keep")
    keys.type("the calm start")
    tab_to(page, "#answer-priority")
    keys.type("let the turf come first")
    tab_to(page, "#answer-drill")
    keys.press("ArrowDown")
    tab_to(page, "#answer-words")
    tab_to(page, "[data-part=phrases] summary")
    keys.press("Enter")
    tab_to(page, "[data-phrase]")
    keys.press("Enter")
    tab_to(page, "[data-part=talk-record]")
    keys.press("Enter")
    expect(page.locator("[data-part=talk-state]")).to_contain_text("Recording")
    page.wait_for_timeout(1200)
    tab_to(page, "[data-part=talk-done]")
    keys.press("Enter")
    expect(page.locator("[data-part=talk-state]")).to_contain_text("Kept")
    tab_to(page, ".answer-actions button[value=check]", back=True)
    keys.press("Enter")
    page.wait_for_url("**/check/")
    tab_to(page, "button[value=queue]")
    keys.press("Enter")
    page.wait_for_url("**/coach/")
    review = Review.objects.get(pk=scene.desk.review.pk)
    assert (review.state, review.keep, review.priority) == (
        "published",
        "the calm start",
        "let the turf come first",
    )
    assert review.drill is not None and review.words == "Breathe out before you start."
    assert SignJudgement.objects.get().verdict == "agree"
    assert Mark.objects.get().kind == "arrow" and review.talks.count() == 1
    the_talk_brings_the_pair_up(open_page, scene)


def the_talk_brings_the_pair_up(open_page: OpenPage, scene: BesideScene) -> None:
    """What stood beside the swing while the coach talked stands there for the student too, and goes when it ends."""
    page = open_page(scene.desk.student, f"/my/answers/{scene.desk.review.public_id}/", size=PHONE)
    expect(page.locator("[data-part=now]")).to_have_text(re.compile("^Frame"))
    expect(page.locator("[data-part=beside]")).to_be_hidden()
    page.evaluate("document.querySelector('[data-part=talk-sound]').play()")
    expect(page.locator("[data-part=beside-now]")).to_have_text(re.compile("^Frame"))
    expect(page.locator("[data-part=beside]")).to_be_hidden()


def said_before(scene: BesideScene) -> None:
    for _ in range(2):
        student = factories.make_student(scene.desk.review.submission.cohort, "Ex Ample")
        submission = factories.make_submission(student, scene.desk.review.submission.cohort)
        factories.make_review(
            submission,
            state="published",
            published_at=timezone.now(),
            published_by=scene.desk.coach,
            words="Breathe out before you start.",
        )


def publish(page: Page) -> None:
    page.get_by_label("The one thing to work on").fill("let the turf come first")
    page.get_by_role("button", name="Look over and publish").click()
    page.wait_for_url("**/check/")
    page.get_by_role("button", name="Publish", exact=True).click()
    page.wait_for_url("**/coach/")


def test_the_student_sees_the_pair_and_the_drawing_as_the_coach_did(open_page: OpenPage) -> None:
    scene = make_beside_scene("30")
    page = at_the_desk(open_page, scene)
    other = scene.references["30"]
    set_beside(page, other)
    page.get_by_role("group", name="Go to").get_by_role("button", name="top", exact=True).click()
    expect(page.locator("[data-part=beside-now]")).to_contain_text("top")
    page.wait_for_timeout(200)
    coach_saw = page.evaluate("window.pair()")
    page.get_by_label("Put the two into the answer").fill("the wait at the top")
    page.get_by_label("with the numbers").check()
    page.get_by_role("button", name="Put it in").click()
    expect(page.locator("[data-kept]")).to_have_count(1)
    # A ring that goes with the lead wrist.
    page.get_by_role("button", name="Ellipse").focus()
    page.keyboard.press("Enter")
    page.get_by_label("Over time it").select_option(label="goes with the lead wrist")
    before = page.locator(".mark.selected .ink").get_attribute("d")
    seek(page, 90)
    assert page.locator(".mark.selected .ink").get_attribute("d") != before
    expect(page.locator("[data-part=saved]")).to_have_text(re.compile(r"^Saved \d"))
    mark = Mark.objects.get()
    assert (mark.follows, mark.anchor_us) == ("left_wrist", scene.desk.times_us[66])
    publish(page)

    student = open_page(
        scene.desk.student, f"/my/answers/{scene.desk.review.public_id}/", size=PHONE, has_touch=True
    )
    expect(student.locator("[data-part=now]")).to_have_text(re.compile("^Frame"))
    student.evaluate(HELPERS)
    student.get_by_role("button", name=re.compile("^the wait at the top")).click()
    expect(student.locator("[data-part=beside-now]")).to_contain_text("top")
    student.wait_for_timeout(300)
    assert student.evaluate("window.pair()") == coach_saw
    expect(student.locator("[data-part=beside]")).to_have_class(re.compile("is-mirrored"))
    student.get_by_text("The numbers of both").click()
    expect(student.get_by_role("table", name=re.compile("^This swing and Calm one"))).to_be_visible()
    expect(student.locator(".mark")).to_have_count(1)
    assert student.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_a_joint_is_dragged_and_taken_back(open_page: OpenPage, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[Any] = []

    def remeasured(folder: Any, data: Any, corrections: Any) -> Any:
        asked.append(corrections.joints)
        rows = {name: [[60, x, y, 1.0]] for name, _, x, y in corrections.joints}
        fresh = {key: value for key, value in data.items() if key != "joint_rows"}
        return fresh | ({"joint_rows": rows} if rows else {})

    monkeypatch.setattr("coachhub.swings.domain.corrections.remeasured", remeasured)
    scene = make_beside_scene()
    page = at_the_desk(open_page, scene)
    seek(page, 60)
    measured = page.locator(".body-lead .ink").get_attribute("d")
    page.get_by_text("Body line in the wrong place?").click()
    tracks = page.evaluate(
        """async () => {
          const { swings } = JSON.parse(document.getElementById("player-data").textContent);
          return (await fetch(swings[0].tracks)).json();
        }"""
    )
    x, y, _ = tracks["joints"]["left_elbow"][60]
    page.locator("[data-part=stage]").scroll_into_view_if_needed()
    drag(page, (x, y), (x + 0.1, y - 0.05))
    expect(page.get_by_text("The lead elbow is set here, and the numbers follow.")).to_be_visible()
    moved = page.locator(".body-lead .ink").get_attribute("d")
    assert moved != measured
    put = JointCorrection.objects.get()
    assert (put.joint, put.t_us) == ("left_elbow", scene.desk.times_us[60])
    assert (put.x, put.y) == (pytest.approx(x + 0.1, abs=0.01), pytest.approx(y - 0.05, abs=0.01))
    # Without a drag: chosen, tapped, nudged, set.
    page.get_by_label("Joint", exact=True).select_option(label="trail knee")
    page.get_by_role("button", name="Joint right").click()
    page.get_by_role("button", name="Set it here").click()
    expect(page.get_by_text("The trail knee is set here, and the numbers follow.")).to_be_visible()
    for joint in ("trail knee", "lead elbow"):
        page.get_by_label("Joint", exact=True).select_option(label=joint)
        page.get_by_role("button", name="Back to the measured place").click()
        expect(page.get_by_text(f"The {joint} is back where it was measured.")).to_be_visible()
    assert page.locator(".body-lead .ink").get_attribute("d") == measured
    assert not JointCorrection.objects.exists() and len(asked) == 4
    assert not Mark.objects.exists()
