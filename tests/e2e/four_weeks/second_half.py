"""From the third week on: a case, a concern, a pause, the last answers, the last day, and what goes after the camp."""

from __future__ import annotations

import io
import re
import zipfile
from uuid import UUID

from django.core.files.storage import default_storage
from playwright.sync_api import expect
from pypdf import PdfReader

from coachhub.camps.models import Camp as CampRow
from coachhub.feedback.models import Review
from coachhub.videos.models import Clip
from tests.e2e.four_weeks import desk
from tests.e2e.four_weeks import range as at_range
from tests.e2e.four_weeks.before import CAMP, COHORT, PURPOSES
from tests.e2e.four_weeks.people import Camp
from tests.e2e.four_weeks.visitor import Visitor
from tests.e2e.four_weeks.weeks import HEDDA_FIRST, HEDDA_LAST, TO_JORY


def a_case_and_its_end(camp: Camp) -> None:
    """A covered swing teaches the others without a name, until whom it shows takes the word back."""
    camp.clock.turn_to(15, 10)
    marisol, hedda, jory = camp["marisol"], camp["hedda"], camp["jory"]
    marisol.visit(f"/lessons/from/{_newest_review(hedda)}/")
    marisol.fill("Title", "Where the turf is touched")
    marisol.fill("What is to be learnt", "Look where the club meets the ground.")
    marisol.press("Make the covered film")
    expect(marisol.page.get_by_role("heading", name="Every frame")).to_be_visible(timeout=120_000)
    marisol.looked()
    for tick in marisol.page.get_by_role("checkbox", name=re.compile("I looked at each of frames")).all():
        tick.check()
    marisol.press("It may be shown")
    marisol.page.get_by_label(re.compile(f"Everybody in {COHORT}")).check()
    marisol.press("Post it")
    marisol.reads("Shown to 2 students")
    jory.visit("/my/")
    jory.follow("Lessons from the camp")
    jory.follow("Where the turf is touched")
    expect(jory.page.locator("video")).to_have_js_property("videoWidth", 720)
    assert hedda.name not in jory.page.content()
    address = jory.page.url
    hedda.visit("/account/consents/")
    hedda.page.get_by_role("group", name=PURPOSES["cohort"]).get_by_label("No").check()
    hedda.press(re.compile("Save"), exact=False)
    answer = jory.page.goto(address)
    assert answer is not None and answer.status == 404


def pause_and_return(camp: Camp) -> None:
    camp.clock.turn_to(16, 10)
    runa, basil = camp["runa"], camp["basil"]
    _organisers_page_of(camp, basil)
    runa.press("Pause")
    basil.visit("/my/")
    expect(basil.page.get_by_role("link", name="Send new swings")).to_have_count(0)
    camp.clock.turn_to(22, 10)
    _organisers_page_of(camp, basil)
    runa.press("Takes part again")


def a_concern(camp: Camp) -> None:
    """What a guardian reports goes to the organiser; whom it is about never sees it."""
    camp.clock.turn_to(17, 20)
    wren, runa, otto, jory = (camp[one] for one in ("wren", "runa", "otto", "jory"))
    wren.visit("/guardian/")
    wren.follow(jory.name)
    wren.follow("Videos, and who watched them")
    wren.reads(otto.name, "The film is deleted on")
    wren.page.go_back()
    wren.follow("Report a concern")
    wren.fill("What worries you?", "Was a drill for the back the right thing for a child?")
    wren.press("Report it")
    wren.reads("Was a drill for the back")
    runa.visit("/organiser/")
    runa.follow(CAMP)
    runa.reads("1 concern of a guardian waits for an answer.")
    runa.follow("Read it")
    runa.press("I look into it")
    runa.fill("Your answer to the guardian", "No. The drill is off, and Otto has told Jory so.")
    runa.press("Answer")
    wren.visit(wren.page.url)
    wren.reads("The drill is off")
    otto.visit("/coach/")
    assert "right thing for a child" not in otto.page.content()


def last_week(camp: Camp) -> None:
    camp.clock.turn_to(23, 18)
    hedda, marisol = camp["hedda"], camp["marisol"]
    at_range.send_swing(hedda, "fo_none", miss=("clean",))
    desk.take(marisol, hedda.name)
    desk.write(marisol, HEDDA_LAST)
    desk.publish(marisol, hedda.name)
    hedda.visit("/my/progress/")
    hedda.reads(HEDDA_FIRST.priority, "Early release")
    marisol.visit("/coach/")
    assert desk.queue(marisol) == []


def last_day(camp: Camp) -> None:
    """Before and after on equal terms, six weeks to go on with, a paper, and films that are kept for who wants it."""
    camp.clock.turn_to(28, 12)
    hedda, runa = camp["hedda"], camp["runa"]
    hedda.visit("/my/last-day/")
    hedda.reads("Before and after", "2 September", "The next six weeks", HEDDA_LAST.priority)
    assert paper(hedda, "The camp on paper (PDF)").count(HEDDA_FIRST.priority) >= 1
    hedda.follow("Keep my videos")
    hedda.press("Make the file")
    with hedda.page.expect_download() as coming:
        hedda.page.get_by_role("link", name=re.compile("The file of")).click()
    names = zipfile.ZipFile(coming.value.path()).namelist()
    assert "index.html" in names and any(name.endswith(".mp4") for name in names)
    hedda.press("Keep my videos for a year more")
    hedda.reads("and these a year more")
    runa.visit("/organiser/")
    runa.follow(CAMP)
    runa.follow(COHORT)
    runa.follow("Progress of the cohort")
    runa.reads(*(camp.name(one) for one in ("otto", "marisol")))
    runa.visit("/organiser/")
    runa.follow(CAMP)
    text = runa.page.request.get(_address(runa, "CSV")).text()
    assert all(camp.name(one) in text for one in ("hedda", "jory", "basil"))
    assert camp.address("jory") not in text


def the_end(camp: Camp) -> None:
    """The camp is closed; what is announced to go goes on its day, and what was kept stays."""
    runa, hedda, jory = camp["runa"], camp["hedda"], camp["jory"]
    runa.follow("Films that go")
    row = runa.page.get_by_role("row", name=hedda.name)
    expect(row.get_by_role("cell").last).to_have_text("yes")
    runa.visit("/organiser/")
    runa.follow(CAMP)
    runa.follow("Who saw and changed what")
    runa.reads(camp.name("otto"), camp.name("wren"))
    runa.visit("/organiser/")
    runa.follow(CAMP)
    runa.press("Close the camp")
    runa.reads("closed")
    jory.visit("/my/")
    expect(jory.page.get_by_role("link", name="Send new swings")).to_have_count(0)
    films = {one: _films(camp[one]) for one in ("hedda", "jory", "basil")}
    assert all(films.values())
    days = CampRow.objects.get(name=CAMP).retention_days
    camp.clock.evening(28 + days + 2)
    assert {one: _films(camp[one]) for one in films} == {"hedda": films["hedda"], "jory": 0, "basil": 0}
    jory.visit("/my/")
    jory.follow("Talk with your coach")
    jory.reads(TO_JORY)


def paper(visitor: Visitor, link: str) -> str:
    """The words of the PDF behind a link."""
    answer = visitor.page.request.get(_address(visitor, link))
    assert answer.headers["content-type"] == "application/pdf"
    pages = PdfReader(io.BytesIO(answer.body())).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def _address(visitor: Visitor, link: str) -> str:
    return visitor.page.get_by_role("link", name=link, exact=True).first.get_attribute("href") or ""


def _newest_review(student: Visitor) -> UUID:
    return Review.objects.filter(submission__student=student.user).latest("published_at").public_id


def _films(student: Visitor) -> int:
    """Playable copies that are still in the store."""
    clips = Clip.objects.filter(submission__student=student.user).exclude(rendition_key="")
    return sum(default_storage.exists(clip.rendition_key) for clip in clips)


def _organisers_page_of(camp: Camp, student: Visitor) -> None:
    runa = camp["runa"]
    runa.visit("/organiser/")
    runa.follow(CAMP)
    runa.follow(COHORT)
    runa.follow(student.name)
