"""What changed, student by student: the numbers behind confirmed signs day by day, and who may need a second look."""

from __future__ import annotations

from datetime import datetime

from coachhub.camps.models import Camp, Cohort, Membership
from coachhub.progress.domain.held import Standing, held_priorities
from coachhub.progress.domain.judged import Judged, Status, answered, judged_submissions
from coachhub.progress.domain.quiet import gone_quiet
from coachhub.progress.domain.readable import numbers_behind
from coachhub.progress.domain.trends import Trend, trends_by_student
from coachhub.progress.words import UNITS
from coachhub.videos.enums import View
from coachhub.videos.models import Submission
from coachhub.web.organiser.exports.table import Table, download
from coachhub.web.words import metric_label

WHY = {
    Standing.STUCK: "on the same thing for long, no change that can be told",
    Standing.UNTOLD: "on the same thing for long, a change can't be told",
}


def _read(camp: Camp, cohorts: list[Cohort]) -> tuple[list[Judged], dict[int, list[Trend]]]:
    """As on the progress pages: only answers that are out, of students who agree that coaches see them."""
    out = answered(camp, cohorts)
    judged = judged_submissions(camp, out)
    confirmed = {sign for one in judged for sign, status in one.signs.items() if status == Status.CONFIRMED}
    sent = Submission.objects.filter(pk__in=[one.submission_id for one in judged])
    return judged, trends_by_student(sent, numbers_behind(confirmed)) if confirmed else {}


@download
def numbers_table(camp: Camp, cohorts: list[Cohort], now: datetime) -> Table:
    """By name, which is no ranking; a number is not better for being larger."""
    _, trends = _read(camp, cohorts)
    rows = Membership.objects.students().filter(cohort__in=cohorts, user__in=trends)
    places = rows.select_related("user", "cohort").order_by("cohort__name", "user__name", "pk")
    heading = ("cohort", "student", "number", "view", "club", "range day", "mean", "±", "unit", "swings")
    lines = (
        (
            place.cohort.name if place.cohort else "",
            place.user.name,
            metric_label(trend.metric),
            _view(trend.view),
            trend.club_class,
            point.day,
            round(point.value, 2),
            round(point.half_width, 2),
            UNITS.get(trend.unit, trend.unit),
            point.n,
        )
        for place in places
        for trend in trends[place.user_id]
        for point in trend.points
    )
    return Table("numbers", heading, lines)


def _view(view: str) -> str:
    return str(View(view).label) if view in View.values else view


@download
def attention_table(camp: Camp, cohorts: list[Cohort], now: datetime) -> Table:
    """Who has been on one thing for long, and who has gone quiet; by name."""
    judged, trends = _read(camp, cohorts)
    held = held_priorities(camp, cohorts, answered(camp, cohorts).order_by(), judged, trends)
    heading = ("student", "why", "what", "since", "range days", "days without a sign of life")
    long = [
        (
            one.name,
            WHY[one.standing],
            one.streak.priority or one.streak.mechanism,
            one.since,
            one.sessions,
            None,
        )
        for one in held
        if one.standing in WHY
    ]
    quiet = [
        (one.name, "gone quiet", "", one.last, None, one.days) for one in gone_quiet(camp, cohorts, now=now)
    ]
    return Table("attention", heading, sorted([*long, *quiet], key=lambda row: str(row[0]).casefold()))
