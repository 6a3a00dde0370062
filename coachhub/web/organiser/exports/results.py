"""What came of it: who took part, answers against the promise and how the work lies, signs, practice."""

from __future__ import annotations

from datetime import datetime

from coachhub.accounts.domain.consent import allowing
from coachhub.accounts.enums import Purpose
from coachhub.accounts.models import Minor
from coachhub.camps.enums import MemberState, Role
from coachhub.camps.models import Camp, Cohort, Membership
from coachhub.feedback.domain.adherence import adherence
from coachhub.progress.domain.judged import answered, judged_submissions
from coachhub.progress.domain.load import loads
from coachhub.progress.domain.participation import participation
from coachhub.progress.domain.turnaround import turnaround
from coachhub.web.organiser.exports.table import Table, download, there, yes_no
from coachhub.web.organiser.results import sign_label


@download
def participation_table(camp: Camp, cohorts: list[Cohort], now: datetime) -> Table:
    """A minor is reached through the guardians, so a minor's own address is in no file."""
    found = participation(camp, cohorts, now=now)
    minors = set(
        Minor.objects.filter(person_id__in=[row.student_id for row in found], grown_at=None).values_list(
            "person_id", flat=True
        )
    )
    heading = (
        "cohort",
        "name",
        "e-mail",
        "write to",
        "state",
        "joined",
        "intake",
        "sent",
        "answered",
        "to film again",
        "last sent",
    )
    rows = (
        (
            row.cohort,
            row.name,
            "" if row.student_id in minors else row.email,
            "the guardian" if row.student_id in minors else "the student",
            row.state_words,
            there(camp, row.joined_at),
            there(camp, row.intake_at),
            row.sent,
            row.answered,
            row.refilm,
            there(camp, row.last_sent_at),
        )
        for row in found
    )
    return Table("participation", heading, rows)


@download
def turnaround_table(camp: Camp, cohorts: list[Cohort], now: datetime) -> Table:
    heading = (
        "cohort",
        "student",
        "coach",
        "usable",
        "promised",
        "published",
        "opened",
        "hours on the clock",
        "late",
    )
    rows = (
        (
            answer.cohort,
            answer.student_name,
            answer.coach,
            there(camp, answer.usable_at),
            there(camp, answer.due_at),
            there(camp, answer.published_at),
            there(camp, answer.opened_at),
            "" if answer.hours is None else round(answer.hours, 1),
            yes_no(answer.is_late),
        )
        for answer in turnaround(camp, cohorts, now=now).answers
    )
    return Table("turnaround", heading, rows)


@download
def load_table(camp: Camp, cohorts: list[Cohort], now: datetime) -> Table:
    """How much lies with each coach; the line without a name is what nobody has taken yet."""
    coaches = Membership.objects.filter(cohort__in=cohorts, role=Role.COACH).exclude(state=MemberState.LEFT)
    people = dict(coaches.order_by("pk").values_list("user_id", "user__name"))
    heading = (
        "coach",
        "open",
        "overdue",
        "answered",
        "answered in the last 7 days",
        "within the promise",
        "hours, half within",
        "hours, nine of ten within",
    )
    rows = (
        (
            one.name,
            one.open,
            one.overdue,
            one.answered,
            one.answered_this_week,
            one.within_promise,
            _hours(one.half_within),
            _hours(one.most_within),
        )
        for one in loads(turnaround(camp, cohorts, now=now).answers, people.items(), now=now)
    )
    return Table("load", heading, rows)


def _hours(value: float | None) -> float | None:
    return None if value is None else round(value, 1)


@download
def signs_table(camp: Camp, cohorts: list[Cohort], now: datetime) -> Table:
    names = {cohort.pk: cohort.name for cohort in cohorts}
    heading = ("cohort", "student", "range day", "camp week", "sign", "state")
    rows = (
        (names[one.cohort_id], one.student_name, one.day, one.week, sign_label(sign), state.replace("_", " "))
        for one in judged_submissions(camp, answered(camp, cohorts))
        for sign, state in one.signs.items()
    )
    return Table("signs", heading, rows)


@download
def practice_table(camp: Camp, cohorts: list[Cohort], now: datetime) -> Table:
    """Each drill given, the newest first; of students who agree that coaches and organisers see it."""
    places = list(
        Membership.objects.students()
        .filter(cohort__in=cohorts, user__in=allowing(Purpose.FEEDBACK))
        .exclude(state=MemberState.LEFT)
        .select_related("user", "cohort")
        .order_by("cohort__name", "user__name", "pk")
    )
    found = adherence([place.user_id for place in places], camp, now=now)
    heading = (
        "cohort",
        "student",
        "drill",
        "given on",
        "until",
        "days a week planned",
        "full weeks",
        "full weeks kept",
        "days noted",
        "balls noted",
        "stopped, it hurt",
        "not understood",
    )
    rows = (
        (
            place.cohort.name if place.cohort else "",
            place.user.name,
            one.review.drill.name if one.review.drill else "",
            one.starts_on,
            one.ends_on,
            one.planned,
            len(one.full_weeks),
            one.kept_weeks if one.planned else None,
            sum(week.days for week in one.weeks),
            sum(week.balls for week in one.weeks),
            yes_no(one.is_stopped),
            yes_no(one.is_unclear),
        )
        for place in places
        for one in found[place.user_id]
    )
    return Table("practice", heading, rows)
