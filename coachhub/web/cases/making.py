"""A coach makes a case: chooses what it shows, looks at every frame of the covered film, and posts it."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from coachhub.accounts.domain.consent import allows
from coachhub.accounts.enums import Purpose
from coachhub.accounts.models import User
from coachhub.camps.enums import MemberState
from coachhub.camps.models import Cohort, Membership
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.enums import JobState
from coachhub.common.rules import require
from coachhub.feedback.domain import cases as verbs
from coachhub.feedback.enums import CaseState
from coachhub.feedback.models import Case, Review, TalkThrough
from coachhub.progress.domain.patterns import groups
from coachhub.swings.models import Swing
from coachhub.web.cases.pages import case_for
from coachhub.web.media.links import media_link
from coachhub.web.who import person_of

BY_GROUND = {"miss": "the same miss", "sign": "the same confirmed sign", "idea": "the same idea"}


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def new(request: HttpRequest, public_id: UUID) -> HttpResponse:
    person = person_of(request)
    rows = Review.objects.visible_to(person).select_related("submission__student", "submission__cohort")
    review = get_object_or_404(rows, public_id=public_id)
    require(person, "feedback.review", review)
    swings = Swing.objects.filter(clip__submission=review.submission).exclude(clip__rendition_key="")
    talks = TalkThrough.objects.filter(review=review, job_state=JobState.DONE)
    if request.method == "POST":
        chosen = request.POST.get("shows", "")
        try:
            case = verbs.begin_case(
                review,
                swing=next((each for each in swings if f"swing:{each.public_id}" == chosen), None),
                talk=next((each for each in talks if f"talk:{each.public_id}" == chosen), None),
                title=request.POST.get("title", ""),
                words=request.POST.get("words", ""),
                by=person,
                now=timezone.now(),
            )
        except RuleBroken as broken:
            messages.error(request, broken.sentence)
        else:
            return redirect("cases:look", case.public_id)
    context = {
        "review": review,
        "agrees": allows(review.submission.student, Purpose.COHORT),
        "choices": [
            *((f"swing:{swing.public_id}", _swing_words(swing)) for swing in swings.select_related("clip")),
            *((f"talk:{talk.public_id}", f"talk-through {n}") for n, talk in enumerate(talks, start=1)),
        ],
    }
    return render(request, "cases/new.html", context)


def _swing_words(swing: Swing) -> str:
    return f"clip {swing.clip.number}, {swing.clip.get_view_display()}, swing {swing.number}"


def _own(request: HttpRequest, public_id: UUID) -> Case:
    found = case_for(request, public_id)
    require(person_of(request), "feedback.review", found)
    return found


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def look(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Sheet by sheet, each to be confirmed; with the last one the case is looked through."""
    case, person = _own(request, public_id), person_of(request)
    if request.method == "POST":
        try:
            _confirm(request, case, person)
        except RuleBroken as broken:
            messages.error(request, broken.sentence)
        return redirect("cases:look", case.public_id)
    context = {
        "case": case,
        "is_under_way": case.job_state in (JobState.WAITING, JobState.RUNNING),
        "sheets": _sheets(case, person),
        "targets": _targets(case, person) if case.state == CaseState.APPROVED else [],
        "margins": [(margin, words) for margin, words in _MARGINS if margin != case.margin],
    }
    return render(request, "cases/look.html", context)


_MARGINS = ((1.0, "as usual"), (1.5, "half as wide again"), (2.0, "twice as wide"))


def _confirm(request: HttpRequest, case: Case, person: User) -> None:
    sent = [int(value) for value in request.POST.getlist("sheet") if value.isascii() and value.isdigit()]
    known = range(1, len(case.facts.get("sheets", ())) + 1)
    verbs.look_at(case, [number for number in sent if number in known], by=person, now=timezone.now())
    case.refresh_from_db()
    heard = request.POST.get("heard") == "yes"
    if request.POST.get("do") == "approve":
        verbs.approve(case, heard=heard, by=person, now=timezone.now())
        messages.success(request, "Looked through. Now it can be posted.")


def _sheets(case: Case, person: User) -> list[dict[str, Any]]:
    return [
        {
            "number": number,
            "first": first + 1,
            "last": last + 1,
            "address": media_link(f"case.sheet.{number}", case, person),
            "looked": number in case.looked,
        }
        for number, (first, last) in enumerate(case.facts.get("sheets", ()), start=1)
    ]


def _targets(case: Case, person: User) -> list[tuple[str, str, list[User]]]:
    """To whom: whole cohorts, or those with what the latest answer to this student found."""
    camp = case.cohort.camp
    cohorts = list(Cohort.objects.coached_by(person).filter(camp=camp).order_by("name"))
    found = [
        (f"cohort:{cohort.public_id}", f"everybody in {cohort.name}", _students(cohort, case))
        for cohort in cohorts
    ]
    for group in groups(camp, cohorts):
        students = [each.student for each in group.students if each.student.pk != case.student_id]
        if len(students) < len(group.students) and students:
            label = f"those with {BY_GROUND[group.ground]}: {group.label}"
            found.append((f"{group.ground}:{group.key}", label, students))
    return [target for target in found if target[2]]


def _students(cohort: Cohort, case: Case) -> list[User]:
    rows = Membership.objects.students().filter(cohort=cohort).exclude(state=MemberState.LEFT)
    return [row.user for row in rows.exclude(user=case.student).select_related("user")]


@require_POST
@login_required
def again(request: HttpRequest, public_id: UUID) -> HttpResponse:
    case = _own(request, public_id)
    margin = next((m for m, _ in _MARGINS if str(m) == request.POST.get("margin")), case.margin)
    try:
        verbs.cover_again(case, margin=margin, by=person_of(request), now=timezone.now())
    except RuleBroken as broken:
        messages.error(request, broken.sentence)
    return redirect("cases:look", case.public_id)


@require_POST
@login_required
def post(request: HttpRequest, public_id: UUID) -> HttpResponse:
    case, person = _own(request, public_id), person_of(request)
    wanted = set(request.POST.getlist("to"))
    students = {user.pk: user for key, _, users in _targets(case, person) if key in wanted for user in users}
    try:
        verbs.post_case(case, students.values(), by=person, now=timezone.now())
    except RuleBroken as broken:
        messages.error(request, broken.sentence)
        return redirect("cases:look", case.public_id)
    messages.success(request, f"Shown to {case.posts.count() - 1} students, each in the own talk.")
    return redirect("cases:case", case.public_id)
