"""Predicates over camps, and over everything that belongs to a cohort or a camp."""

from __future__ import annotations

from typing import Any

from coachhub.accounts.models import User
from coachhub.accounts.rules import may_make_camps
from coachhub.camps.enums import CampState, MemberState, Role
from coachhub.camps.models import Camp, Cohort, Membership
from coachhub.common.rules import predicate, rule


def camp_of(obj: Any) -> Camp:
    """The camp a thing belongs to: itself, its cohort's, or the one it names."""
    if isinstance(obj, Camp):
        return obj
    camp = getattr(obj, "camp", None) or obj.cohort.camp
    assert isinstance(camp, Camp)
    return camp


def cohort_id_of(obj: Any) -> int | None:
    return obj.pk if isinstance(obj, Cohort) else getattr(obj, "cohort_id", None)


def _holds(
    user: User, role: str, *, camp_id: int, cohort_id: int | None = None, only_active: bool = False
) -> bool:
    held = Membership.objects.present(user).filter(camp_id=camp_id, role=role)
    if cohort_id is not None:
        held = held.filter(cohort_id=cohort_id)
    if only_active:
        held = held.filter(state=MemberState.ACTIVE)
    return held.exists()


@predicate
def organises(user: User, obj: Any) -> bool:
    return _holds(user, Role.ORGANISER, camp_id=camp_of(obj).pk, only_active=True)


@predicate
def coaches(user: User, obj: Any) -> bool:
    """Coaches the thing's own cohort; for a camp as a whole: any cohort of it."""
    return _holds(user, Role.COACH, camp_id=camp_of(obj).pk, cohort_id=cohort_id_of(obj), only_active=True)


@predicate
def studies(user: User, obj: Any) -> bool:
    """A student of the thing's cohort who still reads (a paused student does)."""
    return _holds(user, Role.STUDENT, camp_id=camp_of(obj).pk, cohort_id=cohort_id_of(obj))


@predicate
def takes_part(user: User, obj: Any) -> bool:
    """A student of the thing's cohort who may send: neither paused nor gone."""
    return _holds(user, Role.STUDENT, camp_id=camp_of(obj).pk, cohort_id=cohort_id_of(obj), only_active=True)


@predicate
def camp_is_open(_: User, obj: Any) -> bool:
    return camp_of(obj).state == CampState.OPEN


staff = coaches | organises

rule("camps.make", may_make_camps)
rule("camps.edit", organises)
rule("camps.invite", organises & camp_is_open)
rule("camps.withdraw_invitation", organises)
rule("camps.manage_members", organises)
rule("camps.see_participation", organises)
rule("camps.export", organises)
rule("camps.see_names", staff)
rule("camps.see_bands", staff)
rule("camps.set_bands", staff & camp_is_open)
rule("camps.send_swings", takes_part & camp_is_open)
rule("camps.see_plan", staff)
rule("camps.set_plan", staff & camp_is_open)
rule("camps.say_hello", coaches & camp_is_open)
