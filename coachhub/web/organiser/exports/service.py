"""The service record of every student in one table, and who saw and changed what."""

from __future__ import annotations

from datetime import datetime

from coachhub.camps.models import Camp, Cohort
from coachhub.progress.domain.audit import whole_log
from coachhub.progress.domain.service_record import Pause, Refusal, service_records
from coachhub.web.organiser.audit_words import detail_words, thing_words, verb_words
from coachhub.web.organiser.exports.table import Table, download, there, yes_no


@download
def service_table(camp: Camp, cohorts: list[Cohort], now: datetime) -> Table:
    heading = (
        "cohort",
        "student",
        "club",
        "state",
        "clips",
        "received",
        "refused",
        "clock started",
        "hours promised",
        "stood still",
        "promised for",
        "delivered",
        "delivered by",
        "opened",
        "hours on the clock",
        "late",
    )
    rows = (
        (
            place.cohort,
            place.student,
            one.club_class,
            one.state_words,
            one.clips,
            there(camp, one.received_at),
            "; ".join(_refusal(each) for each in one.refusals),
            there(camp, one.clock_from),
            one.promise_hours,
            "; ".join(_pause(camp, each) for each in one.pauses),
            there(camp, one.promised_at),
            there(camp, one.delivered_at),
            one.delivered_by,
            there(camp, one.opened_at),
            "" if one.hours is None else round(one.hours, 1),
            yes_no(one.is_late),
        )
        for place, one in service_records(camp, cohorts, now=now)
    )
    return Table("service", heading, rows)


def _refusal(one: Refusal) -> str:
    words = f"clip {one.clip}: {one.reason}"
    return f"{words} (a coach allowed it later)" if one.allowed_later else words


def _pause(camp: Camp, one: Pause) -> str:
    ends = f"{one.until.astimezone(camp.zone):%Y-%m-%d %H:%M}" if one.until else "now"
    words = f"{one.since.astimezone(camp.zone):%Y-%m-%d %H:%M} to {ends}"
    return f"{words}: {one.reason}" if one.reason else words


@download
def log_table(camp: Camp, cohorts: list[Cohort], now: datetime) -> Table:
    """Newest first, all of it."""
    heading = ("at", "who", "did", "with", "of", "detail", "kind")
    rows = (
        (
            there(camp, one.at),
            one.actor,
            verb_words(one),
            thing_words(one),
            one.about,
            detail_words(one),
            "look" if one.is_sight else "change",
        )
        for one in whole_log(camp)
    )
    return Table("log", heading, rows)
