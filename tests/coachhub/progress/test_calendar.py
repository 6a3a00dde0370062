"""The feed, read back by the `icalendar` library and held to RFC 5545 (sections named beside each check)."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from icalendar import Calendar

from coachhub.camps.models import CampTask, Membership
from coachhub.progress.domain import calendar as feed
from tests import factories

pytestmark = [pytest.mark.integration, pytest.mark.django_db]
NOW = datetime(2026, 3, 24, 12, tzinfo=UTC)


@pytest.fixture
def place() -> Membership:
    camp = factories.make_camp(
        "Umlaut camp: Übungen, and a very long name that goes beyond seventy-five octets of a line",
        starts_on=date(2026, 3, 23),
        ends_on=date(2026, 4, 19),
        time_zone="Europe/Berlin",
    )
    CampTask.objects.create(
        camp=camp,
        words="Three irons; both views, please",
        views=["dtl"],
        opens_on=date(2026, 3, 23),
        due_on=date(2026, 3, 29),
        created_at=NOW,
    )
    return Membership.objects.get(user=factories.make_student(factories.make_cohort(camp)))


def _read(place: Membership) -> tuple[bytes, Calendar]:
    raw = feed.calendar_of(place.user, now=NOW).to_ical()
    return raw, Calendar.from_ical(raw)


def test_what_every_calendar_must_have(place: Membership) -> None:
    raw, read = _read(place)
    # 3.6: PRODID and VERSION 2.0 exactly once.
    assert read["VERSION"] == "2.0" and read["PRODID"]
    # 3.1: lines end with CRLF and have at most 75 octets.
    assert raw.endswith(b"\r\n") and all(len(line) <= 75 for line in raw.split(b"\r\n"))
    for event in read.walk("VEVENT"):
        # 3.6.1: UID and DTSTAMP required; 3.8.7.2: DTSTAMP in UTC.
        assert event["UID"] and event["DTSTAMP"].dt.utcoffset() == timedelta(0)


def test_a_camp_is_whole_days_whose_end_is_the_day_after(place: Membership) -> None:
    camp = next(e for e in _read(place)[1].walk("VEVENT") if e["UID"].startswith(str(place.camp.public_id)))
    # 3.6.1: DTEND is not part of the event; 3.3.4: VALUE=DATE has no time.
    assert (camp["DTSTART"].dt, camp["DTEND"].dt) == (date(2026, 3, 23), date(2026, 4, 20))
    assert camp["SUMMARY"] == place.camp.name


def test_a_task_ends_with_its_day_in_the_camps_zone_and_the_zone_is_described(place: Membership) -> None:
    read = _read(place)[1]
    task = next(e for e in read.walk("VEVENT") if str(e["SUMMARY"]).startswith("Due"))
    # The EU's summer time begins on 29 March 2026 at 01:00 UTC, so that day ends at 22:00 UTC.
    assert task["DTEND"].dt.astimezone(UTC) == datetime(2026, 3, 29, 22, tzinfo=UTC)
    assert task["DTSTART"].dt.astimezone(UTC) == datetime(2026, 3, 29, 21, tzinfo=UTC)
    # 3.3.11: semicolons and commas in a text come back as they went in.
    assert task["SUMMARY"] == "Due: Three irons; both views, please"
    # 3.2.19: each TZID has its VTIMEZONE; 3.6.5: with a STANDARD or DAYLIGHT part.
    named = {e[name].params["TZID"] for e in [task] for name in ("DTSTART", "DTEND")}
    zones = {str(zone["TZID"]): zone for zone in read.walk("VTIMEZONE")}
    assert named == set(zones) == {"Europe/Berlin"}
    offsets = {part.name: part["TZOFFSETTO"].td for part in zones["Europe/Berlin"].subcomponents}
    assert offsets == {"STANDARD": timedelta(hours=1), "DAYLIGHT": timedelta(hours=2)}


def test_the_same_thing_keeps_its_uid_and_done_is_said(place: Membership) -> None:
    before = {e["UID"] for e in _read(place)[1].walk("VEVENT")}
    assert place.cohort is not None
    sent = factories.make_submission(place.user, place.cohort, sent_at=NOW)
    for _ in range(3):
        clip = factories.make_clip(sent, view="dtl")
        factories.make_swing(clip)
    after = list(_read(place)[1].walk("VEVENT"))
    assert {e["UID"] for e in after} == before and len(before) == 2
    assert any(e["SUMMARY"].startswith("Done") for e in after)


def test_the_address_ends_when_renewed_ended_or_the_person_may_not_come_in(place: Membership) -> None:
    person = place.user
    old = feed.token_of(feed.renew_key(person, now=NOW))
    assert feed.person_of_token(old) == person
    new = feed.token_of(feed.renew_key(person, now=NOW))
    assert feed.person_of_token(old) is None and feed.person_of_token(new) == person
    assert feed.person_of_token(new[:-1] + ("A" if new[-1] != "A" else "B")) is None
    person.is_active = False
    person.save()
    assert feed.person_of_token(new) is None
    person.is_active = True
    person.save()
    feed.end_key(person)
    assert feed.person_of_token(new) is None


def test_a_guardian_has_the_childrens_tasks_without_their_names(place: Membership) -> None:
    assert place.cohort is not None
    guardian = factories.make_user()
    factories.make_minor(place.cohort, "Mika Reed", guardian=guardian)

    def read() -> tuple[str, list[str], set[str]]:
        raw = feed.calendar_of(guardian, now=NOW).to_ical().decode()
        events = list(Calendar.from_ical(raw).walk("VEVENT"))
        tasks = sorted(str(e["SUMMARY"]) for e in events if "irons" in str(e["SUMMARY"]))
        assert len({e["UID"] for e in events}) == len(events)
        return raw, tasks, {str(e["UID"]) for e in events}

    raw, tasks, _ = read()
    assert tasks == ["Due: Three irons; both views, please"] and "Mika" not in raw
    factories.make_minor(place.cohort, "Otis Reed", guardian=guardian)
    raw, tasks, uids = read()
    assert tasks == [f"Due: Three irons; both views, please ({who})" for who in ("M. R.", "O. R.")]
    assert "Mika" not in raw and "Reed" not in raw and len(uids) == 3
    outsider = feed.calendar_of(factories.make_user(), now=NOW).to_ical()
    assert b"VEVENT" not in outsider
