"""One's own data, or a child's: take it along, see when films go, keep them longer; and a camp's films that go."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import datetime
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from coachhub.accounts.domain.guardians import answers_for
from coachhub.accounts.models import User
from coachhub.camps.domain.hellos import last_day_of_recordings
from coachhub.camps.models import Camp, HelloRecording, Membership
from coachhub.common.enums import JobState
from coachhub.progress.domain import takeaway
from coachhub.progress.models import Takeaway
from coachhub.videos.domain.retention import (
    KEPT_LONGER,
    Going,
    films_of_camp,
    keep_no_longer,
    keep_videos,
    preview,
)
from coachhub.videos.models import Clip, KeptVideos
from coachhub.web.organiser.access import camp_for
from coachhub.web.who import person_of


@dataclass
class CampFilms:
    """What goes of one camp's films of one person, by day."""

    camp: Camp
    is_kept: bool
    going: list[Going] = field(default_factory=list)


def subject(request: HttpRequest, public_id: UUID) -> User:
    """Oneself, or a child that one answers for; nobody else is found."""
    found = get_object_or_404(User, public_id=public_id)
    if found.pk != person_of(request).pk and not answers_for(person_of(request), found):
        raise Http404("not theirs")
    return found


@require_safe
@login_required
def person(request: HttpRequest, public_id: UUID) -> HttpResponse:
    found = subject(request, public_id)
    files = Takeaway.objects.visible_to(person_of(request)).filter(person=found)
    context = {
        "person": found,
        "is_self": found.pk == person_of(request).pk,
        "files": files[:5],
        "is_under_way": files.filter(job_state__in=(JobState.WAITING, JobState.RUNNING)).exists(),
        "kept_days": takeaway.KEPT_FOR.days,
        "kept_longer": KEPT_LONGER.days,
        "camps": _films_of(found),
    }
    return render(request, "data/person.html", context)


def _films_of(found: User) -> list[CampFilms]:
    going: dict[int, list[Going]] = defaultdict(list)
    for each in preview(Clip.objects.filter(submission__student=found)):
        going[each.clip.camp.pk].append(each)
    kept = set(KeptVideos.objects.filter(student=found).values_list("camp_id", flat=True))
    places = Membership.objects.students().filter(user=found).select_related("camp")
    return [CampFilms(place.camp, place.camp_id in kept, going[place.camp_id]) for place in places]


@require_POST
@login_required
def order(request: HttpRequest, public_id: UUID) -> HttpResponse:
    takeaway.order(subject(request, public_id), by=person_of(request), now=timezone.now())
    messages.success(request, "The file is being made. It appears here in a few minutes.")
    return redirect("data:person", public_id)


@require_POST
@login_required
def keep(request: HttpRequest, public_id: UUID) -> HttpResponse:
    found = subject(request, public_id)
    places = Membership.objects.students().filter(user=found).select_related("camp")
    place = get_object_or_404(places, camp__public_id=_uuid(request.POST.get("camp", "")))
    if request.POST.get("keep") == "yes":
        keep_videos(found, place.camp, by=person_of(request), now=timezone.now())
        messages.success(request, "Kept for a year more. The new days stand below.")
    else:
        keep_no_longer(found, place.camp, by=person_of(request), now=timezone.now())
        messages.success(request, "They go with the camp's days again.")
    return redirect("data:person", public_id)


def _uuid(text: str) -> UUID:
    try:
        return UUID(text)
    except ValueError as error:
        raise Http404("no such camp") from error


@dataclass(frozen=True)
class StudentGoing:
    student: User
    clips: int
    first: datetime
    last: datetime
    is_kept: bool


@require_safe
@login_required
def retention(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """What of this camp's films goes when; exactly this is deleted."""
    camp = camp_for(request, public_id, "camps.manage_members")
    by_student: dict[int, list[Going]] = defaultdict(list)
    library = []
    for going in films_of_camp(camp):
        if going.clip.submission is None:
            library.append(going)
        else:
            by_student[going.clip.submission.student_id].append(going)
    kept = set(KeptVideos.objects.filter(camp=camp).values_list("student_id", flat=True))
    rows = [_student_row(listed, kept) for listed in by_student.values()]
    context = {
        "camp": camp,
        "rows": sorted(rows, key=lambda row: (row.first, row.student.name)),
        "library": library,
        "hellos": HelloRecording.objects.filter(hello__cohort__camp=camp).count(),
        "hellos_go": last_day_of_recordings(camp),
    }
    return render(request, "data/retention.html", context)


def _student_row(listed: list[Going], kept: set[int]) -> StudentGoing:
    submission = listed[0].clip.submission
    assert submission is not None
    return StudentGoing(
        submission.student, len(listed), listed[0].at, listed[-1].at, submission.student_id in kept
    )
