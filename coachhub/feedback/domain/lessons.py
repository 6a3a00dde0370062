"""One explanation for everybody with the same miss, sign or idea. Each reads it in the own thread; nobody is named."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.db import transaction

from coachhub.accounts.domain.guardians import has_guardian
from coachhub.accounts.domain.minors import under_guard
from coachhub.accounts.models import User
from coachhub.camps.enums import MemberState
from coachhub.camps.models import Camp, Cohort, Membership
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record
from coachhub.common.rules import can
from coachhub.feedback.domain.health import health_of
from coachhub.feedback.domain.practice import drills_that_hurt
from coachhub.feedback.domain.threads import post_lesson, thread_for
from coachhub.feedback.enums import Ground, ReviewState
from coachhub.feedback.models import Drill, Lesson, LessonDelivery, Review
from coachhub.videos.models import Clip, Submission


@transaction.atomic
def send_lesson(
    camp: Camp,
    *,
    ground: str,
    key: str,
    text: str,
    students: Iterable[User],
    drill: Drill | None = None,
    clip: Clip | None = None,
    at_us: int | None = None,
    by: User,
    now: datetime,
) -> Lesson:
    """``clip``: of the coach's library, never of a student. Where a student's pain forbids the drill it is left out."""
    if not can(by, "feedback.teach", camp):
        raise RuleBroken("not_a_coach", "Only a coach of this camp can send a lesson.")
    if ground not in Ground.values:
        raise ValueError(f"ground must be one of {Ground.values}, not {ground!r}")
    if clip is not None and clip.reference_id is None:
        raise ValueError("clip must be of a library, not of a student")
    places = own_students(camp, students, by)
    if not places:
        raise RuleBroken("nobody", "Nobody in your cohorts has this just now.")
    lesson = Lesson.objects.create(
        camp=camp,
        by=by,
        ground=ground,
        key=key,
        text=_words(text),
        drill=drill,
        clip=clip,
        at_us=at_us,
        created_at=now,
    )
    for place in places:
        _deliver(lesson, place, by=by, now=now)
    record(
        "lesson.sent", lesson, by=by, now=now, scope=camp.public_id, ground=str(ground), students=len(places)
    )
    return lesson


def own_students(camp: Camp, students: Iterable[User], by: User) -> list[Membership]:
    """Only those in cohorts that the sender coaches, each once; of minors only those whose guardian reads along."""
    wanted = {student.pk for student in students}
    coached = Cohort.objects.coached_by(by).filter(camp=camp)
    rows = Membership.objects.students().filter(user__in=wanted, camp=camp, cohort__in=coached)
    places = rows.exclude(state=MemberState.LEFT).select_related("user").order_by("pk")
    return [place for place in places if not under_guard(place.user) or has_guardian(place.user)]


def _words(text: str) -> str:
    words = text.replace("\x00", "").strip()
    if not words:
        raise RuleBroken("empty", "Write the lesson first.")
    if len(words) > 4000:
        raise RuleBroken(
            "too_long", f"A lesson can have 4000 characters; yours has {len(words)}. Shorten it."
        )
    return words


def _deliver(lesson: Lesson, place: Membership, *, by: User, now: datetime) -> None:
    student = place.user
    message = post_lesson(thread_for(student, lesson.camp, now=now), by=by, text=lesson.text, now=now)
    with_drill = lesson.drill is not None and _may_drill(lesson, student)
    LessonDelivery.objects.create(lesson=lesson, message=message, with_drill=with_drill)
    if with_drill and lesson.drill is not None and lesson.drill.film is not None:
        lesson.drill.film.shown_to.add(student)
    if lesson.clip is not None and lesson.clip.reference is not None:
        lesson.clip.reference.shown_to.add(student)


def _may_drill(lesson: Lesson, student: User) -> bool:
    """Not with a pain alert, not with pain that nobody placed, not where the drill loads what hurts or hurt."""
    latest = (
        Submission.objects.filter(student=student, camp=lesson.camp).order_by("-range_day", "-pk").first()
    )
    flagged = Review.objects.filter(submission__student=student, submission__camp=lesson.camp)
    if latest is None or flagged.filter(has_red_flag=True).exclude(state=ReviewState.DROPPED).exists():
        return False
    health = health_of(latest)
    sore = set(health.sites_now) | set(health.sites_past)
    assert lesson.drill is not None
    hurts = lesson.drill_id in drills_that_hurt(student, lesson.camp)
    return not (hurts or health.has_red_flag or health.site_unknown or sore & set(lesson.drill.avoid_sites))
