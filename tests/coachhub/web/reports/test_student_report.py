"""A student's report: what it says to whom, how it is built, and that nothing gets in from outside."""

from __future__ import annotations

import re
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from django.utils.html import escape
from pypdf import PdfReader

from coachhub.accounts.models import StandingConsent, User
from coachhub.camps.models import Camp, Membership
from coachhub.common.models import Sight
from coachhub.feedback.models import Drill, Practice, Review
from coachhub.web.reports import press
from coachhub.web.reports.paper import Shelf
from coachhub.web.reports.press import ShelfFetcher, printed
from tests import factories
from tests.coachhub.web.reports.scene import Told, jpeg, make_told, structure, tell, text_of

pytestmark = [pytest.mark.unit, pytest.mark.django_db]


@pytest.fixture
def told(db: None) -> Told:
    return make_told()


def test_it_tells_what_was_worked_on_in_the_words_of_the_last_finding(told: Told) -> None:
    text = text_of(told.paper(told.cast.student))
    assert "Sam Student" in text and "Heron Lake" in text
    assert "starts left, flies straight" in text and "the hands overtake early" in text
    assert "the club has to lift the ball" in text
    assert "the ball must be helped up" not in text
    assert "Answers 2, by Ines Coach" in text
    assert "Touch the turf past the ball" in text


def test_the_drill_plan_has_priority_cue_dose_and_stop_rule(told: Told) -> None:
    text = text_of(told.paper(told.cast.student))
    plan = text[text.index("What to practise") :]
    for words in ("Now: Brush ahead", "brush the turf past the line", "3 sets of 10, 3 times a week"):
        assert words in plan
    assert "Stop if it hurts. Stop if the lead wrist aches. Warm up first." in plan
    assert "Nothing here is a diagnosis or medical advice." in plan
    assert "not validated" in plan and "Not visible to one phone: pressure under the feet" in plan


def test_the_student_reads_confirmed_signs_and_their_numbers_alone(told: Told) -> None:
    text = text_of(told.paper(told.cast.student))
    assert "early release" in text.lower()
    assert "sway" not in text.lower() and "pelvis" not in text.lower()
    # 120 and 134, each ± 1 from three swings; the day that is not answered has no number.
    assert "2 June 120.0" in text and "9 June 134.0" in text
    assert "150.0" not in text and "16 June" not in text[text.index("Measured, over") :]
    assert "it changed by" in text


def test_where_the_camp_keeps_numbers_the_student_gets_none_and_the_coach_is_told(told: Told) -> None:
    Camp.objects.update(students_see_trends=False)
    mine, coachs = text_of(told.paper(told.cast.student)), text_of(told.paper(told.cast.coach))
    assert "Measured, over" not in mine and "134" not in mine
    assert "For coaches and organisers." not in mine
    assert "9 June 134.0" in coachs and "For coaches and organisers." in coachs


def test_pages_are_a4_tagged_and_say_their_language_and_title(told: Told) -> None:
    paper = told.paper(told.cast.student)
    root: Any = paper.trailer["/Root"]
    assert bool(root["/MarkInfo"]["/Marked"])
    assert root["/Lang"] == "en"
    assert bool(root["/ViewerPreferences"]["/DisplayDocTitle"])
    # ISO 14289-1, 5: the file says of itself that it keeps to part 1.
    said = re.search(rb"pdfuaid:part(?:>|=\")(\d)", root["/Metadata"].get_data())
    assert said is not None and said[1] == b"1"
    assert paper.metadata is not None
    assert paper.metadata.title == "Report of the camp Heron Lake"
    assert 2 <= len(paper.pages) <= 6
    # ISO 216: 210 x 297 mm.
    box = paper.pages[0].mediabox
    assert (round(float(box.width) / 72 * 25.4), round(float(box.height) / 72 * 25.4)) == (210, 297)


def test_every_picture_has_words_and_headings_are_headings(told: Told) -> None:
    root: Any = told.paper(told.cast.student).trailer["/Root"]
    nodes = structure(root["/StructTreeRoot"])
    figures = [node for node in nodes if node.get("/S") == "/Figure"]
    # Three stills of each of the two answered days, one plot, one drawing.
    assert len(figures) == 8
    assert all(str(figure.get("/Alt", "")).strip() for figure in figures)
    kinds = {str(node.get("/S")) for node in nodes}
    assert {"/H1", "/H2", "/Table", "/TH", "/L"} <= kinds


def test_the_pictures_are_those_in_storage(told: Told) -> None:
    paper = told.paper(told.cast.student)
    photos = [image for page in paper.pages for image in page.images if image.name.endswith(".jpg")]
    assert photos
    assert {image.image.size for image in photos if image.image} == {(270, 340)}


def test_the_files_name_names_nobody(told: Told) -> None:
    where = told.get(told.cast.student).headers["Content-Disposition"]
    assert where.startswith('inline; filename="report-heron-lake-')
    assert "sam" not in where.lower() and "student" not in where.lower()


def test_staff_and_guardians_get_it_and_that_is_noted(told: Told) -> None:
    for person in (told.cast.coach, told.cast.organiser):
        told.paper(person)
    tell(told.cast, told.cast.minor)
    child = Membership.objects.get(user=told.cast.minor)
    assert "Mika Minor" in text_of(told.paper(told.cast.guardian, child.public_id))
    told.paper(told.cast.student)
    looked = list(Sight.objects.filter(thing="camps.membership").values_list("person__name", flat=True))
    assert sorted(looked) == ["Gerda Guardian", "Ines Coach", "Mara Organiser"]


def test_without_the_consent_staff_find_nothing_and_the_student_still_does(told: Told) -> None:
    StandingConsent.objects.filter(person=told.cast.student, purpose="feedback").delete()
    assert told.get(told.cast.coach).status_code == 404
    assert told.get(told.cast.organiser).status_code == 404
    told.paper(told.cast.student)


@pytest.mark.parametrize("who", ["cohort_mate", "minor", "guardian", "coach_elsewhere", "outsider"])
def test_others_find_nothing(told: Told, who: str) -> None:
    assert told.get(getattr(told.cast, who)).status_code == 404


def test_who_has_left_reads_no_more(told: Told) -> None:
    Membership.objects.filter(pk=told.place.pk).update(state="left")
    assert told.get(told.cast.student).status_code == 404


def test_pain_is_minded_without_saying_where(told: Told) -> None:
    factories.make_intake(told.cast.student, pain="now", pain_sites=["low_back"], red_flags=["night"])
    Drill.objects.update(avoid_sites=["low_back"])
    Practice.objects.create(
        review=told.reviews[-1], kind="hurts", on_day="2026-06-12", created_at=factories.NOW
    )
    text = text_of(told.paper(told.cast.coach))
    assert "You told us of pain at a place that this drill loads." in text
    assert "Stopped, since it hurt." in text
    assert "See a clinician first." in text
    assert "lower back" not in text.lower() and "at night" not in text.lower()


def test_a_student_without_answers_gets_a_paper_that_says_so(told: Told) -> None:
    place = Membership.objects.get(user=told.cast.cohort_mate)
    text = text_of(told.paper(told.cast.cohort_mate, place.public_id))
    for words in ("No answer with a finding is out yet.", "Nothing was sent yet.", "No drill was given yet."):
        assert words in text


HOSTILE = '<img src=file:///etc/passwd><link rel=attachment href="file:///etc/passwd">'


def test_hostile_names_and_words_are_words(told: Told) -> None:
    User.objects.filter(pk=told.cast.student.pk).update(name=HOSTILE)
    Review.objects.update(priority=HOSTILE, cue="<style>@import url(http://example.org/)</style>")
    Camp.objects.update(name=HOSTILE)
    paper = told.paper(told.cast.student)
    assert "<img src=file:///etc/passwd>" in text_of(paper)
    assert "root:" not in text_of(paper)
    assert paper.attachments == {}


@pytest.mark.parametrize(
    "markup",
    [
        '<img src="file:///etc/passwd" alt="x">',
        '<link rel="stylesheet" href="http://127.0.0.1:9/x.css">',
        '<link rel="attachment" href="file:///etc/hostname">',
        '<style>@import url("https://example.org/x.css"); body { background: url(ftp://example.org/x) }</style>',
        '<img src="data:image/svg+xml,%3Csvg xmlns=%22http://www.w3.org/2000/svg%22/%3E" alt="x">',
        '<img src="paper:99" alt="x">',
        '<img src="../../secret.key" alt="x">',
        '<object data="file:///etc/passwd"></object>',
    ],
)
def test_even_real_markup_fetches_nothing(markup: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Behind the escaping stands a second door."""
    opened: list[str] = []
    monkeypatch.setattr(
        "urllib.request.OpenerDirector.open", lambda self, *args, **more: opened.append(str(args))
    )
    fetcher = ShelfFetcher(Shelf())
    pdf = printed(f'<html lang="en"><title>x</title><body><p>words</p>{markup}</body></html>', fetcher)
    assert opened == []
    assert fetcher.refused
    assert PdfReader(BytesIO(pdf)).attachments == {}


def test_what_lies_on_the_shelf_is_shown_and_what_it_names_is_not_fetched() -> None:
    shelf = Shelf()
    photo = shelf.put("image/jpeg", jpeg())
    nested = shelf.put(
        "image/svg+xml",
        b'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" viewBox="0 0 9 9">'
        b'<image xlink:href="file:///etc/passwd" width="9" height="9"/></svg>',
    )
    fetcher = ShelfFetcher(shelf)
    page = f'<html lang="en"><title>x</title><img src="{photo}" alt="a"><img src="{nested}" alt="b"></html>'
    paper = PdfReader(BytesIO(printed(page, fetcher)))
    assert [image.image.size for image in paper.pages[0].images if image.image] == [(270, 340)]
    assert fetcher.refused == ["file:///etc/passwd"]
    assert shelf.put("image/jpeg", b"") == "" and escape(photo) == photo
    assert Path("/etc/passwd").read_bytes()[:20] not in printed(page, fetcher)


def test_while_the_press_is_taken_one_is_told_to_come_again(
    told: Told, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(press, "LONGEST_WAIT_S", 0.01)
    with press._PRESS:
        answer = told.get(told.cast.student)
    assert (answer.status_code, answer.headers["Retry-After"]) == (503, "60")
    assert told.get(told.cast.student).status_code == 200, "the next one finds it free"
