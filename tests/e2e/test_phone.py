"""The student's phone: clips looked at before they go, a queue that outlives page and network, usable pages."""

from __future__ import annotations

import re
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
from django.utils import timezone
from playwright.sync_api import BrowserContext, Page, Route, expect

from coachhub.accounts.models import User
from coachhub.camps.enums import Role
from coachhub.feedback.domain.threads import post_feedback
from coachhub.feedback.enums import ReviewState
from coachhub.feedback.models import Finding, Review
from coachhub.swings.models import AnalysisRun
from coachhub.videos.enums import SubmissionState
from coachhub.videos.models import Clip, Submission, Upload
from tests import factories
from tests.e2e.axe import serious_findings
from tests.e2e.conftest import PHONE, OpenPage

pytestmark = [pytest.mark.e2e, pytest.mark.django_db(transaction=True)]
CHUNK = 512 * 1024


@dataclass(frozen=True)
class Range:
    student: User
    coach: User
    submission: Submission

    @property
    def address(self) -> str:
        return f"/my/sent/{self.submission.public_id}/"


@pytest.fixture
def range_day(transactional_db: None) -> Range:
    cohort = factories.make_cohort()
    student, coach = factories.make_student(cohort, "Sam Student"), factories.make_user("Ines Coach")
    factories.join(coach, cohort, Role.COACH)
    submission = factories.make_submission(
        student,
        cohort,
        state=SubmissionState.OPEN,
        sent_at=None,
        settled_at=None,
        range_day=timezone.localdate(),
    )
    return Range(student, coach, submission)


def film(path: Path, *, rate: int = 60, seconds: float = 1.5, wide: int = 540, high: int = 960) -> Path:
    """Noise on grey: large enough for several pieces, and bright enough to be no dusk."""
    noise = np.random.default_rng(7)
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=rate, width=wide, height=high, pix_fmt="yuv420p")
        stream.options = {"preset": "ultrafast", "crf": "18"}
        for _ in range(round(rate * seconds)):
            picture = noise.integers(60, 200, (high // 4, wide // 4, 3), dtype=np.uint8)
            frame = av.VideoFrame.from_ndarray(picture.repeat(4, axis=0).repeat(4, axis=1), format="rgb24")
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path


@dataclass
class Line:
    """The network between phone and site: counts the pieces, and can be cut.

    ``stays_cut``: from the cut on nothing comes through until ``mend``; else only that piece is lost.
    """

    context: BrowserContext
    offsets: list[int] = field(default_factory=list)
    checksums: list[str] = field(default_factory=list)
    cut_at: int | None = None
    stays_cut: bool = False
    is_cut: bool = False
    lost: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.context.route("**/uploads/**", self.handle)

    def mend(self) -> None:
        self.is_cut = False

    def handle(self, route: Route) -> None:
        if route.request.method == "PATCH" and not self.is_cut:
            self.offsets.append(int(route.request.headers["upload-offset"]))
            self.checksums.append(route.request.headers.get("upload-checksum", ""))
            if len(self.offsets) == self.cut_at and not self.lost:
                self.lost.append(self.offsets.pop())
                self.is_cut = self.stays_cut
                route.abort("connectionreset")
                return
        if self.is_cut:
            route.abort("connectionreset")
        else:
            route.continue_()


def choose(page: Page, *files: Path, view: str = "face-on") -> None:
    page.locator('input[type="file"]').set_input_files([str(file) for file in files])
    cards = page.locator(".chosen > li")
    expect(cards).to_have_count(len(files))
    for card in cards.all():
        card.get_by_label(view).check()


def upload(page: Page) -> None:
    button = page.get_by_role("button", name="Upload", exact=True)
    expect(button).to_be_enabled()
    button.click()


def test_the_phone_looks_before_it_sends(range_day: Range, open_page: OpenPage, tmp_path: Path) -> None:
    page = open_page(range_day.student, range_day.address, size=PHONE)
    page.locator('input[type="file"]').set_input_files(
        [
            str(film(tmp_path / "good.mp4")),
            str(film(tmp_path / "side.mp4", rate=25, wide=640, high=360)),
            str(film(tmp_path / "long.mp4", rate=5, seconds=70, wide=64, high=64)),
        ]
    )
    (tmp_path / "notes.mp4").write_text("#EXTM3U\nhttp://192.0.2.1/segment.ts\n" * 20)
    (tmp_path / "empty.mov").write_bytes(b"")
    cards = page.locator(".chosen > li")
    expect(cards.nth(0)).to_contain_text("60 pictures a second")
    expect(cards.nth(0)).to_contain_text("Length: 1.5 seconds")
    expect(cards.nth(0)).to_contain_text("540 × 960 pixels")
    expect(cards.nth(0)).to_contain_text("Filmed upright")
    expect(cards.nth(0)).to_contain_text("Light looks fine")
    expect(cards.nth(0)).to_contain_text("whole body is in the picture")
    expect(cards.nth(1)).to_contain_text("Only 25 pictures a second")
    expect(cards.nth(1)).to_contain_text("Filmed sideways")
    expect(cards.nth(2)).to_contain_text("70.0 seconds; a clip can have 60")
    expect(cards.nth(2).get_by_role("button", name="Upload")).to_be_hidden()
    page.locator('input[type="file"]').set_input_files(
        [str(tmp_path / "notes.mp4"), str(tmp_path / "empty.mov")]
    )
    expect(cards.nth(3)).to_contain_text("This is not a video")
    expect(cards.nth(4)).to_contain_text("The file is empty")
    assert Upload.objects.count() == 0


def test_a_clip_chosen_before_the_script_came_is_looked_at_all_the_same(
    range_day: Range, open_page: OpenPage, tmp_path: Path
) -> None:
    """On a slow line the page can be used before its script has arrived."""
    page = open_page(range_day.student, "/my/", size=PHONE)
    held: list[Route] = []
    # The page of before may ask for it too.
    page.context.route(
        "**/upload_picker*.js", lambda route: held.append(route) if not is_there else route.continue_()
    )
    is_there = False
    page.goto(range_day.address, wait_until="commit")
    page.get_by_label("Choose a clip").set_input_files(str(film(tmp_path / "swing.mp4")))
    until = time.monotonic() + 30
    while not held and time.monotonic() < until:
        page.wait_for_timeout(50)
    assert held
    expect(page.get_by_role("button", name="Upload this clip")).to_be_visible()
    is_there = True
    for route in held:
        route.continue_()
    page.locator(".chosen > li").get_by_label("face-on").check()
    upload(page)
    expect(page.locator("[data-clip]")).to_have_count(1)


def test_a_cut_line_a_reload_and_no_byte_twice(range_day: Range, open_page: OpenPage, tmp_path: Path) -> None:
    clip = film(tmp_path / "swing.mp4")
    size = clip.stat().st_size
    assert size > 3 * CHUNK
    page = open_page(range_day.student, range_day.address, size=PHONE)
    line = Line(page.context, cut_at=3, stays_cut=True)
    choose(page, clip)
    upload(page)
    expect(page.locator(".queue")).to_contain_text("No connection")
    page.context.set_offline(True)
    expect(page.locator('[data-part="note"]')).to_contain_text("kept on this phone")
    expect(page.locator(".queue")).to_contain_text(re.compile(r"\d+ % is there; it goes on by itself"))
    page.context.set_offline(False)
    # Cut until the page is a new one: a piece under way at the reload would rightly be sent again.
    page.reload()
    line.mend()
    expect(page.locator("[data-clip]")).to_have_count(1)
    expect(page.locator(".queue li")).to_have_count(0)
    # Piece by piece from zero; the one that broke got through at its second try, and none twice.
    assert line.lost == [2 * CHUNK]
    assert line.offsets == list(range(0, size, CHUNK))
    assert all(checksum.startswith("sha256 ") for checksum in line.checksums)
    kept = Clip.objects.get()
    assert (kept.size, kept.view, kept.file_name) == (size, "face_on", "swing.mp4")
    report = Upload.objects.get().phone_report
    assert (round(report["fps"]), report["fps_sure"], report["codes"]) == (60, "counted", ["after_arrival"])


def test_pause_go_on_remove_and_the_same_file_again(
    range_day: Range, open_page: OpenPage, tmp_path: Path
) -> None:
    page = open_page(range_day.student, range_day.address, size=PHONE)
    Line(page.context, cut_at=2)
    choose(page, film(tmp_path / "swing.mp4"))
    upload(page)
    expect(page.locator(".queue")).to_contain_text("No connection")
    page.get_by_role("button", name="Pause").click()
    expect(page.locator(".queue")).to_contain_text(re.compile(r"Paused at \d+ %"))
    page.locator('input[type="file"]').set_input_files(str(tmp_path / "swing.mp4"))
    expect(page.locator(".chosen")).to_contain_text("already on its way")
    page.get_by_role("button", name="Go on").click()
    expect(page.locator("[data-clip]")).to_have_count(1)
    (tmp_path / "again.mp4").write_bytes((tmp_path / "swing.mp4").read_bytes())
    page.get_by_role("button", name="Leave out").click()
    choose(page, tmp_path / "again.mp4")
    upload(page)
    expect(page.get_by_text("same video as clip 1")).to_be_visible()
    assert Clip.objects.count() == 1


MOBILE_NETWORK = """(() => {
  const network = Object.assign(new EventTarget(), { type: "cellular" });
  Object.defineProperty(navigator, "connection", { value: network });
})()"""
NETWORK_BECOMES = (
    "(type) => { navigator.connection.type = type; navigator.connection.dispatchEvent(new Event('change')); }"
)


def test_it_waits_for_wifi_over_a_reload_and_then_goes_by_itself(
    range_day: Range, open_page: OpenPage, tmp_path: Path
) -> None:
    """W3C Network Information API: `type` is cellular, wifi and so on, and `change` tells of another network."""
    page = open_page(range_day.student, range_day.address, size=PHONE)
    page.add_init_script(MOBILE_NETWORK)
    page.reload()
    line = Line(page.context)
    page.get_by_label("only with Wi-Fi").check()
    choose(page, film(tmp_path / "swing.mp4"))
    upload(page)
    expect(page.locator(".queue")).to_contain_text("Waits for its turn")
    page.wait_for_timeout(1500)
    assert line.offsets == [] and not Upload.objects.exists()
    # The choice is the phone's and outlives the page, as the clip does.
    page.reload()
    expect(page.get_by_label("only with Wi-Fi")).to_be_checked()
    expect(page.locator(".queue")).to_contain_text("Waits for its turn")
    page.evaluate(NETWORK_BECOMES, "wifi")
    expect(page.locator("[data-clip]")).to_have_count(1)
    assert line.offsets[0] == 0


def test_removing_takes_the_half_sent_file_away(
    range_day: Range, open_page: OpenPage, tmp_path: Path
) -> None:
    page = open_page(range_day.student, range_day.address, size=PHONE)
    Line(page.context, cut_at=2)
    choose(page, film(tmp_path / "swing.mp4"))
    upload(page)
    expect(page.locator(".queue")).to_contain_text("No connection")
    page.get_by_role("button", name="Pause").click()
    page.get_by_role("button", name="Remove swing.mp4").click()
    expect(page.locator(".queue li")).to_have_count(0)
    until = time.monotonic() + 30
    while Upload.objects.get().state != "gone" and time.monotonic() < until:
        page.wait_for_timeout(100)
    assert Upload.objects.get().state == "gone"
    assert Clip.objects.count() == 0


def test_sent_to_the_coach_when_all_have_arrived(
    range_day: Range, open_page: OpenPage, tmp_path: Path
) -> None:
    page = open_page(range_day.student, range_day.address, size=PHONE)
    line = Line(page.context, cut_at=2)
    choose(page, film(tmp_path / "swing.mp4"))
    upload(page)
    expect(page.locator(".queue")).to_contain_text("No connection")
    page.get_by_role("button", name="Send to my coach when all have arrived").click()
    expect(page.get_by_role("button", name=re.compile("Will be sent"))).to_be_visible()
    # Another page of the site takes the queue over.
    page.goto("/my/")
    expect(page.get_by_text("Sent. You can follow here")).to_be_visible()
    assert len(line.offsets) > 3
    range_day.submission.refresh_from_db()
    assert range_day.submission.state == SubmissionState.SENT
    assert Clip.objects.count() == 1


def test_the_page_follows_without_a_reload(range_day: Range, open_page: OpenPage) -> None:
    clip = factories.make_clip(range_day.submission, state="playable")
    run = factories.make_run(clip, job_state="running", stage="looking", percent=25)
    Submission.objects.update(state=SubmissionState.SENT)
    page = open_page(range_day.student, range_day.address, size=PHONE)
    bar = page.locator("[data-clip] progress")
    expect(bar).to_have_attribute("value", "40")
    AnalysisRun.objects.filter(pk=run.pk).update(percent=50, stage="swing_1")
    expect(bar).to_have_js_property("value", 60)
    expect(page.locator("[data-clip]")).to_contain_text("running (swing 1)")
    expect(page.get_by_role("heading", name="Add clips")).to_be_visible()
    Clip.objects.update(state="usable")
    Submission.objects.update(state=SubmissionState.USABLE)
    expect(page.locator(".turn")).to_contain_text("With your coach")
    expect(page.get_by_role("heading", name="Add clips")).to_be_hidden()
    expect(page.locator("[data-clip]")).to_contain_text("Usable")


def test_another_person_on_the_same_phone_sends_nothing_of_it(
    range_day: Range, open_page: OpenPage, tmp_path: Path, live_server: Any
) -> None:
    from tests.e2e.conftest import session_cookie

    page = open_page(range_day.student, range_day.address, size=PHONE)
    line = Line(page.context, cut_at=2)
    choose(page, film(tmp_path / "swing.mp4"))
    upload(page)
    expect(page.locator(".queue")).to_contain_text("No connection")
    page.get_by_role("button", name="Pause").click()
    before = len(line.offsets)
    other = factories.make_student(range_day.submission.cohort)
    page.context.clear_cookies()
    page.context.add_cookies([session_cookie(other, live_server.url)])
    page.goto("/my/")
    page.wait_for_timeout(1500)
    expect(page.get_by_text("On the way from this phone")).to_be_hidden()
    assert len(line.offsets) == before


def test_without_scripts_one_clip_at_a_time(range_day: Range, open_page: OpenPage, tmp_path: Path) -> None:
    page = open_page(range_day.student, range_day.address, size=PHONE, java_script_enabled=False)
    page.get_by_label("down-the-line").check()
    page.locator('input[type="file"]').set_input_files(str(film(tmp_path / "swing.mp4", seconds=0.5)))
    page.get_by_role("button", name="Upload this clip").click()
    expect(page.get_by_text("Your clip has arrived")).to_be_visible()
    assert Clip.objects.get().view == "dtl"
    page.get_by_role("button", name="Send to my coach").click()
    expect(page.get_by_text("Sent. You can follow here")).to_be_visible()


@pytest.fixture
def answer(range_day: Range) -> Review:
    submission = factories.make_submission(
        range_day.student, range_day.submission.cohort, state=SubmissionState.ANSWERED
    )
    factories.make_swing(factories.make_clip(submission), signs={"early_release": "likely"})
    review = factories.make_review(
        submission,
        state=ReviewState.PUBLISHED,
        published_at=timezone.now(),
        published_by=range_day.coach,
        priority="Turf after the ball",
        drill=factories.make_drill(),
    )
    Finding.objects.create(
        review=review, miss="thin", mechanism="head first", root_kind="idea", root="lifting"
    )
    post_feedback(review, by=range_day.coach, now=timezone.now())
    return review


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_page_can_be_used_by_anybody(
    range_day: Range, answer: Review, open_page: OpenPage, scheme: str
) -> None:
    factories.make_clip(range_day.submission, state="refused", refused_text="Nobody is in the picture.")
    factories.make_clip(range_day.submission, state="playable")
    thread = answer.messages.get().thread
    page = open_page(range_day.student, "/my/", size=PHONE, color_scheme=scheme)
    found = {}
    for path in (
        "/my/",
        "/my/new/",
        range_day.address,
        f"/my/answers/{answer.public_id}/",
        f"/my/thread/{thread.public_id}/",
        "/my/progress/",
    ):
        page.goto(path)
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), f"{path} is too wide"
        for summary in page.locator("summary").all():
            summary.click()
        found[path] = serious_findings(page)
    assert found == {path: [] for path in found}


def test_practised_in_two_taps(range_day: Range, answer: Review, open_page: OpenPage) -> None:
    page = open_page(range_day.student, f"/my/answers/{answer.public_id}/", size=PHONE)
    page.get_by_text("I practised").click()
    page.get_by_role("button", name="40", exact=True).click()
    expect(page.get_by_text("Practice noted.")).to_be_visible()
    assert answer.practice.get().balls == 40
