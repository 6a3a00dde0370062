"""Who is what in a camp, and how that changes."""

from __future__ import annotations

from datetime import datetime

from django.db import IntegrityError, transaction
from django.db.models import QuerySet

from coachhub.accounts.domain.guardians import guardians_of
from coachhub.accounts.models import Guardianship, User
from coachhub.camps.enums import MEMBER_MOVES, MemberState, Role
from coachhub.camps.models import Camp, Cohort, Membership
from coachhub.common.domain.errors import RuleBroken, Stale
from coachhub.common.domain.events import record

LEADS_TO = {MemberState.ACTIVE: "resumed", MemberState.PAUSED: "paused", MemberState.LEFT: "left"}


@transaction.atomic
def enrol(user: User, cohort: Cohort, role: str, *, by: User | None, now: datetime) -> Membership:
    """Make somebody a student or coach of the cohort. Twice is once; who had left comes back."""
    if role not in (Role.STUDENT, Role.COACH):
        raise ValueError(f"role must be student or coach, not {role!r}")
    _refuse_mixed_roles(user, cohort, role)
    try:
        with transaction.atomic():
            member, is_new = Membership.objects.get_or_create(
                camp=cohort.camp, cohort=cohort, user=user, role=role, defaults={"created_at": now}
            )
    except IntegrityError as error:
        raise RuleBroken(
            "in_other_cohort",
            "You are already a student in another cohort of this camp. Ask the organiser if you want to change.",
        ) from error
    if is_new:
        record("member.joined", member, by=by or user, now=now, scope=cohort.camp.public_id, role=role)
    elif member.state == MemberState.LEFT:
        set_member_state(member, MemberState.ACTIVE, by=by or user, now=now)
    return member


def _refuse_mixed_roles(user: User, cohort: Cohort, role: str) -> None:
    """A coach or organiser who opens a student's link has most likely only tried it out."""
    held = set(Membership.objects.present(user).filter(camp=cohort.camp).values_list("role", flat=True))
    if role == Role.STUDENT and held & {Role.COACH, Role.ORGANISER}:
        raise RuleBroken(
            "is_staff",
            "You help to run this camp, and this link is for its students. To try it out, sign out and open it again.",
        )
    _refuse_own_family(user, cohort.camp, role)
    if role == Role.COACH and Role.STUDENT in held:
        raise RuleBroken(
            "is_student",
            "You are a student of this camp. Ask the organiser to end that before you coach in it.",
        )


def _refuse_own_family(user: User, camp: Camp, role: str) -> None:
    """A minor's guardian doesn't work in the same camp: two grown-ups of different interest read along."""
    people = Membership.objects.filter(camp=camp).exclude(state=MemberState.LEFT)
    if role == Role.COACH:
        meets = people.filter(role=Role.STUDENT, user_id__in=Guardianship.objects.read_along(user)).exists()
    else:
        staff = people.exclude(role=Role.STUDENT)
        meets = staff.filter(user_id__in=guardians_of(user).values("pk")).exists()
    if meets:
        raise RuleBroken(
            "own_family",
            "A guardian can't coach or organise in the same camp as the child. Ask the organiser for another camp.",
        )


@transaction.atomic
def set_member_state(member: Membership, state: str, *, by: User, now: datetime) -> Membership:
    """Pause, resume, end or renew somebody's part. Asking for the state that already holds changes nothing."""
    if state not in MemberState.values:
        raise ValueError(f"state must be one of {MemberState.values}, not {state!r}")
    if member.state == state:
        return member
    if state not in MEMBER_MOVES[member.state]:
        raise RuleBroken("no_such_move", f"Somebody who {_is(member.state)} can't be set to “{_is(state)}”.")
    if state != MemberState.ACTIVE and member.role == Role.ORGANISER:
        _refuse_last_organiser(member)
    if not Membership.objects.filter(pk=member.pk, state=member.state).update(state=state):
        raise Stale()
    member.state = state
    record(f"member.{LEADS_TO[MemberState(state)]}", member, by=by, now=now, scope=member.camp.public_id)
    return member


def _is(state: str) -> str:
    return str(MemberState(state).label)


def _refuse_last_organiser(member: Membership) -> None:
    others = Membership.objects.filter(
        camp=member.camp, role=Role.ORGANISER, state=MemberState.ACTIVE
    ).exclude(pk=member.pk)
    if not others.select_for_update().exists():
        raise RuleBroken(
            "last_organiser",
            "A camp needs an organiser, and this is the only one. Somebody else must take over first.",
        )


def coaches_of_camp(camp: Camp) -> QuerySet[User]:
    """People who coach in any cohort of the camp: candidates for another of its cohorts."""
    ids = (
        Membership.objects.filter(camp=camp, role=Role.COACH)
        .exclude(state=MemberState.LEFT)
        .values("user_id")
    )
    return User.objects.filter(pk__in=ids).order_by("name", "pk")


@transaction.atomic
def assign_coach(cohort: Cohort, coach: User, *, by: User, now: datetime) -> Membership:
    """Let a coach of this camp also coach this cohort. New coaches come by invitation."""
    if not coaches_of_camp(cohort.camp).filter(pk=coach.pk).exists():
        raise RuleBroken(
            "no_coach_here", "This person doesn't coach in this camp yet. Send an invitation first."
        )
    return enrol(coach, cohort, Role.COACH, by=by, now=now)


def works_beside(person: User, student: User) -> bool:
    """Whether the person coaches or organises in a camp in which the other is a student."""
    camps = Membership.objects.present(student).filter(role=Role.STUDENT).values("camp_id")
    staff = Membership.objects.present(person).filter(camp_id__in=camps)
    return staff.exclude(role=Role.STUDENT).exists()
