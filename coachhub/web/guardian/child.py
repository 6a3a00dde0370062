"""A guardian's pages of a child: what is agreed to, what the child does, and stepping back."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.dates import MONTHS
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from coachhub.accounts.domain.consent import NEEDED_TO_SEND, standing
from coachhub.accounts.domain.guardians import children_of, end
from coachhub.accounts.domain.health import advice_for
from coachhub.accounts.domain.intake import current_intake
from coachhub.accounts.domain.minors import correct_birth, is_minor, minority_of
from coachhub.accounts.forms import BirthForm
from coachhub.accounts.models import Guardianship, Intake, User
from coachhub.camps.models import Camp, Membership
from coachhub.common.domain.errors import RuleBroken
from coachhub.feedback.domain.junior_load import JuniorLoad, junior_load
from coachhub.feedback.domain.threads import unread
from coachhub.feedback.models import Practice, Review, Thread
from coachhub.videos.models import Submission
from coachhub.web.account.summary import summary_of
from coachhub.web.guardian.access import child_for, decides, guardian_page, guardianship_of, places_of
from coachhub.web.guardian.words import change_consents, consent_lines
from coachhub.web.student.labels import submission_label
from coachhub.web.who import person_of

SHOWN_PRACTICE = 20


@dataclass(frozen=True)
class ChildCard:
    child: User
    camps: tuple[Camp, ...]
    is_minor: bool
    may_send: bool
    unread: int


@dataclass(frozen=True)
class Part:
    """One camp of the child."""

    place: Membership
    thread: Thread | None
    unread: int
    answers: tuple[tuple[str, Review], ...]
    practice: tuple[Practice, ...]
    load: JuniorLoad | None


@require_safe
@guardian_page
def home(request: HttpRequest) -> HttpResponse:
    now = timezone.now()
    cards = [
        _card(child, person_of(request), now) for child in children_of(person_of(request)).order_by("name")
    ]
    return render(request, "guardian/home.html", {"cards": cards})


def _card(child: User, reader: User, now: datetime) -> ChildCard:
    return ChildCard(
        child=child,
        camps=tuple(place.camp for place in places_of(child)),
        is_minor=is_minor(child, now=now),
        may_send=standing(child) >= set(NEEDED_TO_SEND),
        unread=unread(reader).filter(thread__student=child).count(),
    )


@require_safe
@guardian_page
def child(request: HttpRequest, public_id: UUID) -> HttpResponse:
    found = child_for(request, public_id)
    return render(request, "guardian/child.html", _page(request, found))


def _page(request: HttpRequest, found: User) -> dict[str, Any]:
    now, reader = timezone.now(), person_of(request)
    guardianship, intake, minor = guardianship_of(request, found), current_intake(found), minority_of(found)
    others = Guardianship.objects.standing().filter(child=found).exclude(guardian=reader)
    return {
        "child": found,
        "decides": decides(guardianship),
        "lines": consent_lines(found, reader, now=now),
        "others": list(others.select_related("guardian")),
        "intake": intake,
        "advice": advice_for(_ticked(found, intake)),
        "summary": summary_of(intake) if intake else [],
        "parts": [_part(place, reader, now) for place in places_of(found)],
        "born": f"{MONTHS[minor.birth_month]} {minor.birth_year}" if minor else "",
        "birth_form": BirthForm(
            initial={"birth_month": minor.birth_month, "birth_year": minor.birth_year} if minor else {}
        ),
    }


def _ticked(child: User, intake: Intake | None) -> set[str]:
    """Pain alerts of the newest answers and of the newest range session of each camp."""
    ticked = set(intake.red_flags) if intake else set()
    for place in places_of(child):
        newest = (
            Submission.objects.filter(student=child, camp=place.camp).order_by("-range_day", "-pk").first()
        )
        ticked |= set(newest.red_flags) if newest else set()
    return ticked


def _part(place: Membership, reader: User, now: datetime) -> Part:
    reviews = Review.objects.visible_to(reader).filter(
        submission__student=place.user, submission__camp=place.camp, published_at__isnull=False
    )
    thread = Thread.objects.visible_to(reader).filter(student=place.user, camp=place.camp).first()
    practice = Practice.objects.visible_to(reader).of(place.user, place.camp).with_drills()
    return Part(
        place=place,
        thread=thread,
        unread=unread(reader).filter(thread=thread).count() if thread else 0,
        answers=tuple(
            (submission_label(review.submission), review)
            for review in reviews.select_related("submission").order_by("-published_at")
        ),
        practice=tuple(practice[:SHOWN_PRACTICE]),
        load=junior_load(place.user, place.camp, now=now),
    )


@require_POST
@guardian_page
def consents(request: HttpRequest, public_id: UUID) -> HttpResponse:
    found = _decided_child(request, public_id)
    answered = change_consents(request.POST, found, by=person_of(request), now=timezone.now())
    if answered:
        messages.success(request, _("Saved. It holds from now on."))
    else:
        messages.error(request, _("Choose yes or no first."))
    return redirect("guardian:child", found.public_id)


@require_POST
@guardian_page
def birth(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """The child picked a wrong month."""
    found = _decided_child(request, public_id)
    form, minor = BirthForm(request.POST), minority_of(found)
    if minor is None or not form.is_valid() or not form.cleaned_data["birth_month"]:
        messages.error(request, _("Give a month and a year of birth."))
        return redirect("guardian:child", found.public_id)
    data = form.cleaned_data
    try:
        correct_birth(
            minor,
            year=data["birth_year"] or 0,
            month=data["birth_month"],
            by=person_of(request),
            now=timezone.now(),
        )
    except RuleBroken as broken:
        messages.error(request, broken.sentence)
    else:
        messages.success(request, _("Saved."))
    still_minor = children_of(person_of(request)).filter(pk=found.pk).exists()
    return redirect("guardian:child", found.public_id) if still_minor else redirect("home")


@require_POST
@guardian_page
def stop(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Step back: no longer a guardian here, and what only this guardian agreed to ends."""
    found = child_for(request, public_id)
    try:
        end(guardianship_of(request, found), by=person_of(request), now=timezone.now())
    except RuleBroken as broken:
        messages.error(request, broken.sentence)
        return redirect("guardian:child", found.public_id)
    messages.success(request, _("You no longer read along here. What only you had agreed to has ended."))
    return redirect("home")


def _decided_child(request: HttpRequest, public_id: UUID) -> User:
    found = child_for(request, public_id)
    if not decides(guardianship_of(request, found)):
        raise PermissionDenied("only reads along")
    return found
