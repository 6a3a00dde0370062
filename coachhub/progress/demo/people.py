"""The demo camp's place and people, made in one go."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from django.db import transaction

from coachhub.accounts.domain.consent import NEEDED_TO_SEND, give
from coachhub.accounts.domain.guardians import LASTS
from coachhub.accounts.domain.intake import Answers, save_intake
from coachhub.accounts.domain.minors import note_minor
from coachhub.accounts.domain.people import register
from coachhub.accounts.enums import GuardianState, Purpose
from coachhub.accounts.models import Guardianship, User
from coachhub.camps.domain.camps import CampPlan, make_camp, make_cohort
from coachhub.camps.domain.invitations import accept, invite, token_of
from coachhub.camps.domain.members import assign_coach
from coachhub.camps.domain.plan import TaskPlan, add_task, say_hello
from coachhub.camps.enums import Role
from coachhub.camps.models import Camp, Cohort
from coachhub.progress.demo.scenario import PASSWORD, Calendar, Data, Scenario


def find_camp(scenario: Scenario) -> Camp | None:
    organiser = next(person for person in scenario.staff if person["role"] == Role.ORGANISER)
    return Camp.objects.filter(
        name=scenario.camp["name"], memberships__user__email=organiser["email"]
    ).first()


def calendar_of(scenario: Scenario, camp: Camp) -> Calendar:
    """The calendar of a camp that was loaded, maybe on an earlier day."""
    return Calendar(camp.ends_on - timedelta(days=scenario.camp["ends"]), camp.zone)


@transaction.atomic
def make_people(scenario: Scenario, *, today: date, now: datetime) -> Camp:
    """Camp, cohorts, staff, students with their intakes, open invitations. Twice is once."""
    found = find_camp(scenario)
    if found is not None:
        return found
    calendar = Calendar(today, scenario.zone)
    made = calendar.at(scenario.camp["made"], "10:00")
    organiser = _register(scenario, scenario.staff[0], made)
    User.objects.filter(pk=organiser.pk).update(may_make_camps=True)
    camp = make_camp(_plan(scenario, calendar), by=organiser, now=made)
    cohorts = {key: make_cohort(camp, name, by=organiser, now=made) for key, name in scenario.cohorts.items()}
    for coach in scenario.staff[1:]:
        _add_coach(scenario, coach, cohorts, organiser, made)
    _set_plan(scenario, calendar, camp, organiser, made)
    for student in scenario.students:
        person = student.person
        joined = calendar.at(person["joined"], "19:00")
        user = _join(scenario, person, cohorts[person["cohort"]], Role.STUDENT, organiser, joined)
        _answer(scenario, user, person, now=joined + timedelta(minutes=9))
    for guest in scenario.invited:
        invited_at = calendar.at(guest["day"], "11:00")
        invite(
            cohorts[guest["cohort"]], email=guest["email"], name=guest["name"], by=organiser, now=invited_at
        )
    return camp


def _set_plan(scenario: Scenario, calendar: Calendar, camp: Camp, organiser: User, now: datetime) -> None:
    for task in scenario.camp["tasks"]:
        fields = {name: value for name, value in task.items() if name not in ("opens", "due", "views")}
        fields["opens_on"], fields["due_on"] = calendar.day(task["opens"]), calendar.day(task["due"])
        add_task(camp, TaskPlan(views=tuple(task["views"]), **fields), by=organiser, now=now)
    for cohort in camp.cohorts.all():
        place = cohort.memberships.filter(role=Role.COACH).select_related("user").order_by("pk").first()
        if place is not None:
            say_hello(cohort, scenario.camp["hello"], by=place.user, now=now)


def _plan(scenario: Scenario, calendar: Calendar) -> CampPlan:
    camp = scenario.camp
    return CampPlan(
        name=camp["name"],
        starts_on=calendar.day(camp["starts"]),
        ends_on=calendar.day(camp["ends"]),
        time_zone=camp["time_zone"],
        rest_days=camp["rest_days"],
        promise_hours=camp["promise_hours"],
        retention_days=camp["retention_days"],
    )


def _register(scenario: Scenario, person: Data, now: datetime) -> User:
    zone = scenario.camp["time_zone"]
    user = User.objects.filter(email=person["email"]).first()
    return user or register(person["email"], name=person["name"], password=PASSWORD, time_zone=zone, now=now)


def _join(
    scenario: Scenario, person: Data, cohort: Cohort, role: str, organiser: User, now: datetime
) -> User:
    """By an open link, as the people of a real camp do; no letter is sent."""
    invitation = invite(cohort, role=role, name=person["name"], by=organiser, now=now - timedelta(days=1))
    user = _register(scenario, person, now)
    accept(token_of(invitation), user, now=now)
    return user


def _add_coach(
    scenario: Scenario, person: Data, cohorts: dict[str, Cohort], organiser: User, now: datetime
) -> None:
    first, *others = (cohorts[key] for key in person["cohorts"])
    coach = _join(scenario, person, first, Role.COACH, organiser, now + timedelta(hours=2))
    for cohort in others:
        assign_coach(cohort, coach, by=organiser, now=now + timedelta(hours=3))


def _answer(scenario: Scenario, user: User, person: Data, *, now: datetime) -> None:
    """The intake, and who agrees: an adult with it, for a minor the guardian an hour later."""
    intake = person["intake"]
    answers = Answers(**{name: value for name, value in intake.items() if name != "agrees_cohort"})
    agrees = {*NEEDED_TO_SEND, *([Purpose.COHORT] if intake.get("agrees_cohort") else [])}
    if "guardian" not in person:
        save_intake(user, answers, agrees=agrees, by=user, now=now)
        return
    note_minor(user, year=now.year - person["age"], month=now.month, by=user, now=now)
    save_intake(user, answers, by=user, now=now)
    later = now + timedelta(hours=1)
    guardian = _register(scenario, person["guardian"], later)
    # Not by its letter: a demo writes to nobody.
    Guardianship.objects.create(
        child=user,
        guardian=guardian,
        email=guardian.email,
        invited_by=user,
        state=GuardianState.ACTIVE,
        mailed_at=now,
        accepted_at=later,
        expires_at=now + LASTS,
        created_at=now,
    )
    give(user, agrees, by=guardian, now=later)


def introduce(scenario: Scenario) -> str:
    """Who may sign in as what, for whoever starts the demo."""
    lines = [
        f"The demo camp “{scenario.camp['name']}” (all invented). Sign in with the password {PASSWORD} as"
    ]
    for person in scenario.staff:
        lines.append(f"  {person['role']:<10} {person['email']}")
    for student in scenario.students:
        lines.append(f"  {'student':<10} {student.person['email']}")
        if "guardian" in student.person:
            lines.append(f"  {'guardian':<10} {student.person['guardian']['email']}")
    return "\n".join(lines)
