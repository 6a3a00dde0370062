"""A guardian's concern: stored, read by the organisers whom it is not about, taken up and answered."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.db.models import QuerySet
from django.urls import reverse

from coachhub.accounts.domain.guardians import children_of
from coachhub.accounts.domain.notices import tell
from coachhub.accounts.enums import NoticeKind
from coachhub.accounts.models import User
from coachhub.camps.enums import CONCERN_MOVES, ConcernState, MemberState, Role
from coachhub.camps.models import Camp, Concern, Membership
from coachhub.common.domain.errors import RuleBroken, Stale
from coachhub.common.domain.events import record

LONGEST = 4000
ALONE = (
    "This person is the camp's only organiser, so nobody else here would read it. Turn to the welfare officer of your "
    "club or association, or to the authorities."
)


def readers_of(camp: Camp, about: User | None) -> QuerySet[User]:
    """Organisers of the camp who would read a concern about this person."""
    rows = Membership.objects.filter(camp=camp, role=Role.ORGANISER, state=MemberState.ACTIVE)
    people = User.objects.filter(pk__in=rows.values("user_id"), is_active=True)
    return people.exclude(pk=about.pk) if about else people


def staff_of(camp: Camp, child: User) -> QuerySet[User]:
    """Whom a concern may name: the coaches of the child's cohort and the organisers."""
    cohorts = Membership.objects.filter(user=child, camp=camp, role=Role.STUDENT).values("cohort_id")
    rows = Membership.objects.filter(camp=camp).exclude(role=Role.STUDENT)
    coaches = rows.filter(role=Role.COACH, cohort_id__in=cohorts)
    organisers = rows.filter(role=Role.ORGANISER)
    ids = {*coaches.values_list("user_id", flat=True), *organisers.values_list("user_id", flat=True)}
    return User.objects.filter(pk__in=ids).order_by("name", "pk")


@transaction.atomic
def report_concern(
    child: User, camp: Camp, words: str, *, about: User | None, by: User, now: datetime
) -> Concern:
    """Keep it and tell those who read it. It says nothing to whom it is about."""
    if not children_of(by).filter(pk=child.pk).exists():
        raise RuleBroken("not_a_guardian", "Only a guardian of this student can do that here.")
    if about is not None and not staff_of(camp, child).filter(pk=about.pk).exists():
        raise RuleBroken("about", "Choose somebody of this camp, or leave it open.")
    if not readers_of(camp, about).exists():
        raise RuleBroken("nobody_reads", ALONE)
    concern = Concern.objects.create(
        camp=camp, child=child, by=by, about=about, words=_words(words), created_at=now
    )
    record("concern.reported", concern, by=by, now=now, scope=camp.public_id)
    for reader in readers_of(camp, about):
        path = reverse("organiser:safety", args=[camp.public_id])
        tell(reader, NoticeKind.CONCERN, about=concern.public_id, path=path, scope=camp.public_id, now=now)
    return concern


@transaction.atomic
def take_up(concern: Concern, *, by: User, now: datetime) -> Concern:
    """An organiser says: I look into it."""
    _refuse_unless_reader(concern, by)
    _move(concern, ConcernState.TAKEN, taken_by=by, taken_at=now)
    record("concern.taken_up", concern, by=by, now=now, scope=concern.camp.public_id)
    _tell_reporter(concern, now=now)
    return concern


@transaction.atomic
def answer_concern(concern: Concern, words: str, *, by: User, now: datetime) -> Concern:
    _refuse_unless_reader(concern, by)
    _move(concern, ConcernState.ANSWERED, answer=_words(words), answered_at=now, taken_by=by)
    record("concern.answered", concern, by=by, now=now, scope=concern.camp.public_id)
    _tell_reporter(concern, now=now)
    return concern


def _tell_reporter(concern: Concern, *, now: datetime) -> None:
    if concern.by is None:
        return
    path = reverse("guardian:concerns", args=[concern.child.public_id])
    about = f"{concern.public_id}:{concern.state}"
    tell(concern.by, NoticeKind.REPLIED, about=about, path=path, scope=concern.camp.public_id, now=now)


def _move(concern: Concern, to: str, **fields: object) -> None:
    sources = [state for state, moves in CONCERN_MOVES.items() if to in moves]
    if not Concern.objects.filter(pk=concern.pk, state__in=sources).update(state=to, **fields):
        raise Stale()
    concern.refresh_from_db()


def _refuse_unless_reader(concern: Concern, by: User) -> None:
    if not readers_of(concern.camp, concern.about).filter(pk=by.pk).exists():
        raise RuleBroken("not_yours", "Only an organiser whom it is not about can do that.")


def _words(text: str) -> str:
    words = text.replace("\x00", "").strip()
    if not words:
        raise RuleBroken("empty", "Write a few words first.")
    if len(words) > LONGEST:
        raise RuleBroken("too_long", f"There is room for {LONGEST} characters; this has {len(words)}.")
    return words
