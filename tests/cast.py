"""The cast every permission test plays with: who can see whose swing.

Two camps. In the first: a cohort with a student, a cohort mate and a coach; a second cohort with its own coach; an
organiser; and a minor, whose guardian is in no camp but reads along. In the second camp: a coach, an organiser, a
student. And somebody in no camp, and nobody at all.
"""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib.auth.models import AnonymousUser

from coachhub.accounts.models import User
from coachhub.camps.enums import Role
from coachhub.camps.models import Camp, Cohort
from tests import factories

NAMES = (
    "student",
    "cohort_mate",
    "minor",
    "guardian",
    "coach",
    "coach_elsewhere",
    "organiser",
    "organiser_elsewhere",
    "outsider",
    "anonymous",
)


@dataclass(frozen=True)
class Cast:
    camp: Camp
    cohort: Cohort
    other_cohort: Cohort
    other_camp: Camp
    student: User
    cohort_mate: User
    minor: User
    guardian: User
    coach: User
    coach_elsewhere: User
    organiser: User
    organiser_elsewhere: User
    outsider: User
    anonymous: AnonymousUser

    def person(self, name: str) -> User | AnonymousUser:
        if name not in NAMES:
            raise ValueError(f"name must be one of {NAMES}, not {name!r}")
        return getattr(self, name)


def make_cast() -> Cast:
    camp = factories.make_camp("Heron Lake")
    cohort = factories.make_cohort(camp, "Morning")
    other_cohort = factories.make_cohort(camp, "Evening")
    other_camp = factories.make_camp("Stone Bridge")
    far_cohort = factories.make_cohort(other_camp, "All")
    coach, coach_elsewhere = factories.make_user("Ines Coach"), factories.make_user("Otto Elsewhere")
    organiser, organiser_elsewhere = factories.make_user("Mara Organiser"), factories.make_user("Pia Faraway")
    factories.join(coach, cohort, Role.COACH)
    factories.join(coach_elsewhere, other_cohort, Role.COACH)
    factories.join(coach_elsewhere, far_cohort, Role.COACH)
    factories.join(organiser, cohort, Role.ORGANISER)
    factories.join(organiser_elsewhere, far_cohort, Role.ORGANISER)
    guardian = factories.make_user("Gerda Guardian")
    return Cast(
        camp=camp,
        cohort=cohort,
        other_cohort=other_cohort,
        other_camp=other_camp,
        student=factories.make_student(cohort, "Sam Student"),
        cohort_mate=factories.make_student(cohort, "Cora Mate"),
        minor=factories.make_minor(cohort, "Mika Minor", guardian=guardian),
        guardian=guardian,
        coach=coach,
        coach_elsewhere=coach_elsewhere,
        organiser=organiser,
        organiser_elsewhere=organiser_elsewhere,
        outsider=factories.make_user("Uwe Outsider"),
        anonymous=AnonymousUser(),
    )
