"""A cohort's report: counts equal those of the domain, with names or without, and nobody's order is a ranking."""

from __future__ import annotations

from io import BytesIO
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from coachhub.accounts.models import StandingConsent, User
from coachhub.camps.models import Cohort, Membership
from coachhub.common.models import Sight
from coachhub.feedback.models import Drill, Practice
from coachhub.progress.domain.report_cohort import cohort_report
from coachhub.web.reports.press import ShelfFetcher
from tests import factories
from tests.coachhub.web.reports.scene import CONFIRMED, Told, make_told, structure, tell, text_of

HOSTILE = '<img src=file:///etc/passwd><link rel=attachment href="file:///etc/passwd">'

pytestmark = [pytest.mark.unit, pytest.mark.django_db]


@pytest.fixture
def told(db: None) -> Told:
    return make_told()


def address_of(told: Told) -> str:
    return reverse("reports:cohort", args=[told.cast.cohort.public_id])


def paper(told: Told, person: User, names: str = "") -> PdfReader:
    client = Client()
    client.force_login(person)
    answer = client.get(address_of(told), {"names": names} if names else {})
    assert answer.status_code == 200
    return PdfReader(BytesIO(answer.content))


def test_who_took_part_and_what_was_kept(told: Told) -> None:
    report = cohort_report(told.cast.cohort, with_names=True, now=timezone.now())
    assert [(week.week, week.students, week.sessions) for week in report.sent] == [
        (1, 1, 1),
        (2, 1, 1),
        (3, 1, 1),
        (4, 0, 0),
    ]
    assert (report.turnout.students, report.turnout.ever_sent) == (3, 1)
    text = text_of(paper(told, told.cast.coach))
    assert "Students Intake answered Ever sent 3 3 1" in text
    assert "Within the promise 2 of 2" in text


def test_signs_and_drills_are_counted_over_students(told: Told) -> None:
    Practice.objects.create(
        review=told.reviews[-1], kind="hurts", on_day="2026-06-12", created_at=factories.NOW
    )
    report = cohort_report(told.cast.cohort, with_names=False, now=timezone.now())
    (sign,) = report.signs
    assert (sign.prevalence.sign, sign.prevalence.confirmed, sign.prevalence.students) == (CONFIRMED, 1, 1)
    assert sign.courses == {"stayed": 1}
    (use,) = report.drills
    # Given on 10 June at 3 days a week: weeks from 10, 17 and 24 June began while the camp was on.
    assert (use.name, use.students, use.weeks, use.kept, use.stopped) == ("Brush ahead", 1, 3, 0, 1)
    text = text_of(paper(told, told.cast.organiser))
    assert "Early release 1 1 confirmed at first and at last: 1" in text
    assert "Brush ahead 1 0 of 3 1 0" in text
    assert "sway" not in text.lower()


def test_people_stand_by_name(told: Told) -> None:
    text = text_of(paper(told, told.cast.coach))
    places = [text.index(name) for name in ("Cora Mate", "Mika Minor", "Sam Student")]
    assert places == sorted(places)
    assert "this is no ranking" in text


def test_a_copy_without_names_names_nobody(told: Told) -> None:
    document = paper(told, told.cast.coach, names="no")
    text = text_of(document)
    for person in (told.cast.student, told.cast.cohort_mate, told.cast.minor, told.cast.coach):
        assert person.name not in text and person.email not in text
    assert "somebody may still be recognised" in text
    assert document.metadata is not None
    assert document.metadata.title == "Report of a cohort in the camp Heron Lake"


def test_nobody_is_counted_without_the_consent(told: Told) -> None:
    StandingConsent.objects.filter(person=told.cast.student, purpose="feedback").delete()
    report = cohort_report(told.cast.cohort, with_names=False, now=timezone.now())
    assert (report.signs, report.drills, report.reviewed) == ((), (), 0)


def test_who_has_left_is_not_in_it(told: Told) -> None:
    Membership.objects.filter(user=told.cast.cohort_mate).update(state="left")
    assert "Cora Mate" not in text_of(paper(told, told.cast.coach))


def test_an_empty_cohort_has_a_report_too(told: Told) -> None:
    empty = factories.make_cohort(told.cast.camp, "Nobody")
    client = Client()
    client.force_login(told.cast.organiser)
    answer = client.get(reverse("reports:cohort", args=[empty.public_id]))
    text = text_of(PdfReader(BytesIO(answer.content)))
    assert "No sign has been confirmed" in text and "No drill was given yet." in text


def test_it_is_tagged_and_its_pictures_have_words(told: Told) -> None:
    document = paper(told, told.cast.coach)
    root: Any = document.trailer["/Root"]
    assert bool(root["/MarkInfo"]["/Marked"]) and root["/Lang"] == "en"
    nodes = structure(root["/StructTreeRoot"])
    figures = [node for node in nodes if node.get("/S") == "/Figure"]
    # Answers by hours, and the one confirmed sign over the weeks.
    assert len(figures) == 2
    assert all(str(figure.get("/Alt", "")).strip() for figure in figures)
    assert {"/H1", "/H2", "/H3", "/Table", "/TH"} <= {str(node.get("/S")) for node in nodes}


def test_hostile_words_are_words_and_nothing_is_fetched(told: Told, monkeypatch: pytest.MonkeyPatch) -> None:
    refused: list[str] = []
    before = ShelfFetcher.fetch

    def fetch(self: ShelfFetcher, url: str, headers: Any = None) -> Any:
        if url not in self.shelf.things:
            refused.append(url)
        return before(self, url, headers)

    monkeypatch.setattr(ShelfFetcher, "fetch", fetch)
    User.objects.filter(pk=told.cast.student.pk).update(name=HOSTILE)
    Drill.objects.update(name=HOSTILE)
    Cohort.objects.filter(pk=told.cast.cohort.pk).update(name=HOSTILE[:60])
    document = paper(told, told.cast.coach)
    assert text_of(document).count("<img src=file:///etc/passwd>") >= 3
    assert refused == [] and document.attachments == {}


def test_who_printed_it_is_noted(told: Told) -> None:
    paper(told, told.cast.organiser)
    seen = Sight.objects.get(thing="camps.cohort")
    assert (seen.person, seen.thing_id) == (told.cast.organiser, told.cast.cohort.public_id)


@pytest.mark.parametrize("who", ["coach", "organiser"])
def test_staff_who_are_paused_get_none(told: Told, who: str) -> None:
    person = getattr(told.cast, who)
    Membership.objects.filter(user=person, camp=told.cast.camp).update(state="paused")
    client = Client()
    client.force_login(person)
    assert client.get(address_of(told)).status_code in (403, 404)


def test_staff_find_it_where_they_look_at_the_cohort(told: Told) -> None:
    camp, cohort = told.cast.camp.public_id, told.cast.cohort.public_id
    for person, page in (
        (told.cast.organiser, reverse("organiser:camp", args=[camp])),
        (told.cast.organiser, reverse("organiser:cohort", args=[cohort])),
        (told.cast.coach, reverse("coach:camp-findings", args=[camp])),
    ):
        client = Client()
        client.force_login(person)
        words = client.get(page).content.decode()
        assert f'href="{address_of(told)}"' in words and f'href="{address_of(told)}?names=no"' in words


def test_more_students_do_not_ask_the_database_more_often(told: Told) -> None:
    client = Client()
    client.force_login(told.cast.coach)
    # The first look of the hour is noted.
    client.get(address_of(told))
    counts = []
    for more in (0, 2):
        for _ in range(more):
            tell(told.cast, factories.make_student(told.cast.cohort))
        with CaptureQueriesContext(connection) as queries:
            assert client.get(address_of(told)).status_code == 200
        counts.append(len(queries))
    assert counts[0] == counts[1]
    assert counts[0] <= 30
