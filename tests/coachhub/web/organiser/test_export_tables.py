"""The tables beside those of results: each row against what the domain or the calendar says."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from coachhub.accounts.models import StandingConsent
from coachhub.camps.domain.concerns import report_concern
from coachhub.camps.domain.invitations import invite
from coachhub.camps.domain.plan import TaskPlan, add_task
from coachhub.camps.models import Membership
from coachhub.common.domain.events import record
from coachhub.common.domain.sights import note_sight
from coachhub.feedback.models import ClockEvent, Practice, Review
from coachhub.progress.domain import audit
from coachhub.progress.domain.quiet import gone_quiet
from coachhub.progress.domain.service_record import service_record
from coachhub.swings.models import SignJudgement
from coachhub.videos.models import Clip, Submission
from coachhub.web.organiser.exports import EXPORTS
from coachhub.web.organiser.exports import table as tables
from tests import factories
from tests.cast import Cast
from tests.coachhub.web.organiser.files import answered_camp, table
from tests.coachhub.web.reports.scene import make_told
from tests.factories import NOW

pytestmark = [pytest.mark.unit, pytest.mark.django_db]


@pytest.fixture
def cast(client: Client, db: None) -> Cast:
    return answered_camp(client)


def rows_of(client: Client, cast: Cast, name: str, key: str) -> dict[str, dict[str, str]]:
    return {row[key]: row for row in table(client, cast, name)}


def test_the_service_record_of_everybody(client: Client, cast: Cast) -> None:
    sent = factories.make_submission(cast.cohort_mate, cast.cohort, sent_at=NOW)
    clip = factories.make_clip(sent, state="refused", refused_text="Nobody swings in it.")
    record("clip.refused", clip, by=None, now=NOW, code="no_swing")
    review = factories.make_review(sent, due_at=NOW + timedelta(hours=60))
    terms = {"hours": 48, "zone": "Asia/Tokyo", "rest_days": []}
    start, pause, resume = (NOW + timedelta(hours=hours) for hours in (1, 5, 9))
    for at, move in ((start, "start"), (pause, "pause"), (resume, "resume")):
        reason = "asked the student" if move == "pause" else ""
        ClockEvent.objects.create(review=review, move=move, at=at, reason=reason, terms=terms)
    row = rows_of(client, cast, "service", "student")["Cora Mate"]
    assert row["refused"] == "clip 1: Nobody swings in it."
    # 09:30 UTC is 18:30 in Tokyo.
    assert (row["received"], row["clock started"]) == ("2026-06-10 18:30+09:00", "2026-06-10 19:30+09:00")
    assert row["stood still"] == "2026-06-10 23:30 to 2026-06-11 03:30: asked the student"
    assert (row["hours promised"], row["delivered"]) == ("48", "")
    (service,) = service_record(Membership.objects.get(user=cast.cohort_mate), now=timezone.now())
    assert row["hours on the clock"] == str(round(service.hours or 0, 1))


def test_practice_and_what_it_is_measured_against(client: Client, cast: Cast) -> None:
    drill = factories.make_drill(name="Brush ahead", per_week="2 times a week")
    review = Review.objects.get(submission__student=cast.student)
    Review.objects.filter(pk=review.pk).update(drill=drill)
    for day in (11, 13):
        Practice.objects.create(review=review, kind="done", on_day=f"2026-06-{day}", balls=30, created_at=NOW)
    row = rows_of(client, cast, "practice", "drill")["Brush ahead"]
    assert (row["given on"], row["days a week planned"], row["balls noted"]) == ("2026-06-10", "2", "60")
    assert (row["days noted"], row["full weeks kept"], row["stopped, it hurt"]) == ("2", "1", "no")


def test_the_work_of_each_coach(client: Client, cast: Cast) -> None:
    factories.make_review(factories.make_submission(cast.cohort_mate, cast.cohort))
    rows = rows_of(client, cast, "load", "coach")
    assert (rows["Ines Coach"]["answered"], rows["Ines Coach"]["within the promise"]) == ("1", "1")
    assert rows[""]["open"] == "1", "nobody has taken it yet"


def test_consents_with_those_who_answer_for_minors(client: Client, cast: Cast) -> None:
    rows = rows_of(client, cast, "consents", "student")
    child, mate = rows["Mika Minor"], rows["Cora Mate"]
    assert (child["under 18"], child["guardians"], child["guardians' addresses"]) == (
        "yes",
        "Gerda Guardian, reads along",
        cast.guardian.email,
    )
    assert child["storing and measuring the videos"] == "yes"
    assert child["showing a swing to the cohort as an example"] == "no"
    assert (mate["under 18"], mate["guardians"]) == ("no", "")


def test_invitations_without_the_addresses_of_minors(client: Client, cast: Cast) -> None:
    for email in ("new@example.org", cast.minor.email.upper()):
        invite(cast.cohort, email=email, name="Somebody", by=cast.organiser, now=timezone.now())
    rows = table(client, cast, "invitations")
    assert sorted(row["e-mail"] for row in rows) == ["", "new@example.org"]
    assert {row["as"] for row in rows} == {"student"}


def test_how_far_each_is_with_the_plan(client: Client, cast: Cast) -> None:
    plan = TaskPlan(
        words="Three irons",
        opens_on=date(2026, 6, 8),
        due_on=date(2026, 6, 12),
        views=("face_on",),
        known_views=("face_on", "dtl"),
        swings=1,
    )
    add_task(cast.camp, plan, by=cast.organiser, now=NOW)
    rows = rows_of(client, cast, "plan", "student")
    assert rows["'=HYPERLINK(1)"]["Three irons (due 2026-06-12)"] == "done"
    assert rows["Cora Mate"]["Three irons (due 2026-06-12)"] == "late"
    assert (rows["Cora Mate"]["answered the questions"], rows["Cora Mate"]["tried an upload"]) == (
        "yes",
        "no",
    )


def test_films_with_the_days_on_which_they_go(client: Client, cast: Cast) -> None:
    Clip.objects.update(rendition_key="renditions/x")
    (row,) = table(client, cast, "films")
    # 15:00 UTC on 26 September is midnight in Tokyo, 90 days after the camp's last moment.
    assert (row["student"], row["goes on"], row["kept for a year more"]) == (
        "'=HYPERLINK(1)",
        "2026-09-26 23:59+09:00",
        "no",
    )


def test_numbers_are_those_behind_confirmed_signs(client: Client) -> None:
    told = make_told()
    client.force_login(told.cast.organiser)
    rows = table(client, told.cast, "numbers")
    # Three swings each, 120 and 134 ± 1; the third day is not answered yet, and nobody looked at the other sign.
    assert [(row["student"], row["range day"], row["mean"], row["unit"], row["swings"]) for row in rows] == [
        ("Sam Student", "2026-06-02", "120.0", "°", "3"),
        ("Sam Student", "2026-06-09", "134.0", "°", "3"),
    ]
    StandingConsent.objects.filter(person=told.cast.student, purpose="feedback").delete()
    assert table(client, told.cast, "numbers") == []


def test_who_has_gone_quiet_and_who_is_on_one_thing(client: Client, monkeypatch: Any) -> None:
    told, later = make_told(), NOW + timedelta(days=16)
    out = {"state": "published", "published_by": told.cast.coach, "claimed_by": told.cast.coach}
    Review.objects.filter(published_at=None).update(published_at=NOW + timedelta(minutes=5), **out)
    Review.objects.update(priority="Turn, then swing")
    Submission.objects.update(state="answered")
    # Without a confirmed sign there is no number that could tell of a change.
    SignJudgement.objects.all().delete()
    monkeypatch.setattr(tables.timezone, "now", lambda: later)
    client.force_login(told.cast.organiser)
    rows = table(client, told.cast, "attention")
    quiet = gone_quiet(told.cast.camp, [told.cast.cohort], now=later)
    assert (
        {row["student"] for row in rows if row["why"] == "gone quiet"} == {one.name for one in quiet} != set()
    )
    (held,) = (row for row in rows if row["what"])
    assert (held["student"], held["why"], held["what"], held["since"], held["range days"]) == (
        "Sam Student",
        "on the same thing for long, a change can't be told",
        "Turn, then swing",
        "2026-06-02",
        "3",
    )


def test_the_log_holds_changes_and_looks_to_the_last(client: Client, cast: Cast, monkeypatch: Any) -> None:
    monkeypatch.setattr(audit, "PORTION", 3)
    for minutes in range(7):
        at = NOW + timedelta(minutes=minutes)
        record("camp.edited", cast.camp, by=cast.organiser, now=at, scope=cast.camp.public_id)
    note_sight(
        cast.cohort, by=cast.coach, now=NOW + timedelta(minutes=3, seconds=30), scope=cast.camp.public_id
    )
    record("camp.edited", cast.other_camp, by=cast.organiser, now=NOW, scope=cast.other_camp.public_id)
    rows = table(client, cast, "log")
    assert [row["kind"] for row in rows] == ["change"] * 3 + ["look"] + ["change"] * 4
    assert {row["who"] for row in rows} == {"Mara Organiser", "Ines Coach"}
    assert [row["at"] for row in rows] == sorted((row["at"] for row in rows), reverse=True)


def test_a_concern_of_a_guardian_is_in_no_file(client: Client, cast: Cast) -> None:
    report_concern(cast.minor, cast.camp, "a sore back", about=cast.coach, by=cast.guardian, now=NOW)
    for name in EXPORTS:
        answer = client.get(reverse(f"organiser:{name}-csv", args=[cast.camp.public_id]))
        assert b"sore back" not in answer.content, name
        # That one was reported stands in the log, without words and without whom it is about.
        assert (b"concern" in answer.content) is (name == "log")


@pytest.mark.parametrize("name", sorted(EXPORTS))
def test_staff_without_the_consent_get_no_line_of_what_was_sent(
    client: Client, cast: Cast, name: str
) -> None:
    """Who takes part, what was agreed to and when films go are the organiser's duty; the rest needs a yes."""
    Clip.objects.update(rendition_key="renditions/x")
    StandingConsent.objects.filter(person=cast.student, purpose="feedback").delete()
    always = ("participation", "plan", "consents", "films")
    lines = [row for row in table(client, cast, name) if "'=HYPERLINK(1)" in row.values()]
    assert bool(lines) is (name in always)
