"""What came of it: answers against the promise, confirmed signs over the weeks, and one student's course."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from coachhub.accounts.domain.consent import allows
from coachhub.accounts.enums import Purpose
from coachhub.camps.domain.weeks import weeks
from coachhub.camps.enums import MemberState, Role
from coachhub.camps.models import Camp, Cohort
from coachhub.progress import plots
from coachhub.progress.domain.erasure import may_erase
from coachhub.progress.domain.judged import Judged, answered, hit_rates, judged_submissions
from coachhub.progress.domain.participation import participation
from coachhub.progress.domain.signs import COURSE_WORDS, StudentSign, sign_change, sign_prevalence
from coachhub.progress.domain.trends import metric_trends
from coachhub.progress.domain.turnaround import Turnaround, turnaround
from coachhub.swings.enums import SignKey
from coachhub.web.organiser.access import camp_for, member_for
from coachhub.web.who import person_of
from coachhub.web.words import metric_label

SIGN_LABELS = {str(value): str(label) for value, label in SignKey.choices}
# Said in one sign for the eye and in words for the ear; never by colour alone.
MARKS = {
    "confirmed": ("●", "confirmed"),
    "disputed": ("◐", "coaches differ"),
    "dismissed": ("○", "not this"),
    "not_confirmed": ("○", "not confirmed"),
    "cant_tell": ("·", "could not be seen"),
}


@dataclass(frozen=True)
class Line:
    """A student's sign as a row of the week grid."""

    student_name: str
    sign: str
    cells: list[tuple[str, str]]
    course: str
    sessions: int


def sign_label(sign: str) -> str:
    return SIGN_LABELS.get(sign, sign.replace("_", " "))


def cohorts_of(request: HttpRequest, camp: Camp) -> tuple[list[Cohort], Cohort | None]:
    """All cohorts of the camp, and the one that the address picks."""
    cohorts = list(Cohort.objects.visible_to(person_of(request)).filter(camp=camp).order_by("name"))
    picked = request.GET.get("cohort")
    if not picked:
        return cohorts, None
    chosen = get_object_or_404(
        Cohort.objects.visible_to(person_of(request)).filter(camp=camp), public_id=_uuid(picked)
    )
    return cohorts, chosen


def _uuid(text: str) -> UUID | None:
    try:
        return UUID(text)
    except ValueError:
        return None


def lines_of(rows: list[StudentSign], numbers: list[int]) -> list[Line]:
    return [
        Line(
            row.student_name,
            sign_label(row.sign),
            [
                MARKS[row.by_week[week]] if week in row.by_week else ("", "nothing reviewed")
                for week in numbers
            ],
            COURSE_WORDS[row.course],
            row.sessions,
        )
        for row in rows
    ]


@login_required
@require_safe
def signs(request: HttpRequest, public_id: UUID) -> HttpResponse:
    camp = camp_for(request, public_id, "camps.see_participation")
    cohorts, chosen = cohorts_of(request, camp)
    submissions = answered(camp, [chosen] if chosen else cohorts)
    judged = judged_submissions(camp, submissions)
    context = {"camp": camp, "cohorts": cohorts, "chosen": chosen, "rates": _rates(submissions)}
    return render(request, "organiser/signs.html", context | _sign_context(camp, judged))


def _rates(submissions: Any) -> list[tuple[str, Any]]:
    return [(sign_label(rate.sign), rate) for rate in hit_rates(submissions)]


def _sign_context(camp: Camp, judged: list[Judged]) -> dict[str, Any]:
    numbers = week_numbers(camp, judged)
    prevalence = sign_prevalence(judged, numbers)
    return {
        "numbers": numbers,
        "reviewed": len(judged),
        "prevalence": [(sign_label(row.sign), row) for row in prevalence],
        "lines": lines_of(sign_change(judged), numbers),
    }


def week_numbers(camp: Camp, judged: list[Judged]) -> list[int]:
    """The camp's weeks and those after it in which somebody still sent; week 0 is before the camp."""
    planned = {week.number for week in weeks(camp)}
    return sorted(planned | {one.week or 0 for one in judged})


@login_required
@require_safe
def promise(request: HttpRequest, public_id: UUID) -> HttpResponse:
    camp = camp_for(request, public_id, "camps.see_participation")
    cohorts, chosen = cohorts_of(request, camp)
    found = turnaround(camp, [chosen] if chosen else cohorts, now=timezone.now())
    context = {"camp": camp, "cohorts": cohorts, "chosen": chosen, "turnaround": found}
    return render(request, "organiser/promise.html", context | _promise_plot(found))


def _promise_plot(found: Turnaround) -> dict[str, Any]:
    bins = found.bins
    words = "; ".join(f"{plots.hours_label(each)}: {each.answers}" for each in bins)
    title = "Answers by hours on the promise clock"
    return {
        "plot": plots.bins_svg(bins, title=title, desc=words),
        "bins": [(plots.hours_label(each), each) for each in bins],
    }


@login_required
@require_safe
def student(request: HttpRequest, public_id: UUID) -> HttpResponse:
    member = member_for(request, public_id, "camps.see_participation")
    if member.role != Role.STUDENT or member.cohort is None:
        raise Http404("not a student")
    camp = member.camp
    judged = judged_submissions(camp, answered(camp, [member.cohort]).filter(student=member.user))
    row = next(
        each
        for each in participation(camp, [member.cohort], now=timezone.now())
        if each.student_id == member.user_id
    )
    context = {
        "member": member,
        "camp": camp,
        "row": row,
        "may_erase": may_erase(member.user, person_of(request)),
        "has_report": member.state != MemberState.LEFT and allows(member.user, Purpose.FEEDBACK),
    }
    return render(
        request, "organiser/student.html", context | _sign_context(camp, judged) | _trends(request, member)
    )


def _trends(request: HttpRequest, member: Any) -> dict[str, Any]:
    every = metric_trends(member.user, member.camp) if allows(member.user, Purpose.FEEDBACK) else []
    names = sorted({trend.metric for trend in every}, key=metric_label)
    # Offered first: what was measured on the most days.
    usual = max(every, key=lambda trend: len(trend.points)).metric if every else ""
    wanted = request.GET.get("metric", "")
    metric = wanted if wanted in names else usual
    return {
        "metrics": [(name, metric_label(name)) for name in names],
        "metric": metric,
        "trends": [(_title(trend), trend) for trend in every if trend.metric == metric],
    }


def _title(trend: Any) -> str:
    view = {"face_on": "face-on", "dtl": "down-the-line"}.get(trend.view, trend.view)
    return f"{metric_label(trend.metric)}, {view}, {trend.club_class}"
