"""Who was invited, who has got in, who answers for minors, what was agreed to, and when films go.

Concerns of guardians are in no file: they stay where only those read them whom they are not about.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import datetime

from coachhub.accounts.enums import GuardianState, Purpose
from coachhub.accounts.models import Guardianship, Minor, StandingConsent
from coachhub.camps.domain.invitations import came_by
from coachhub.camps.models import Camp, CampTask, Cohort, Invitation, Membership
from coachhub.progress.domain.plan import arrivals
from coachhub.videos.domain.retention import films_of_camp
from coachhub.web.organiser.cohorts import state_words
from coachhub.web.organiser.exports.table import Table, download, there, yes_no

READING = {GuardianState.INVITED: "invited", GuardianState.ACTIVE: "reads along"}


@download
def consents_table(camp: Camp, cohorts: list[Cohort], now: datetime) -> Table:
    """What stands for each student; for a minor with who answers for them."""
    rows = Membership.objects.students().filter(cohort__in=cohorts).select_related("user", "cohort")
    places = list(rows.order_by("cohort__name", "user__name", "pk"))
    people = [place.user_id for place in places]
    held: dict[int, set[str]] = defaultdict(set)
    for person_id, purpose in StandingConsent.objects.filter(person__in=people).values_list(
        "person_id", "purpose"
    ):
        held[person_id].add(purpose)
    minors = set(Minor.objects.filter(person__in=people, grown_at=None).values_list("person_id", flat=True))
    named: dict[int, list[Guardianship]] = defaultdict(list)
    for row in Guardianship.objects.filter(child__in=minors, state__in=READING).select_related("guardian"):
        named[row.child_id].append(row)
    heading = (
        "cohort",
        "student",
        "under 18",
        *(str(purpose.label) for purpose in Purpose),
        "guardians",
        "guardians' addresses",
    )
    lines = (
        (
            place.cohort.name if place.cohort else "",
            place.user.name,
            yes_no(place.user_id in minors),
            *(yes_no(purpose in held[place.user_id]) for purpose in Purpose),
            "; ".join(_guardian(row) for row in named[place.user_id]),
            "; ".join(row.guardian.email if row.guardian else row.email for row in named[place.user_id]),
        )
        for place in places
    )
    return Table("consents", heading, lines)


def _guardian(row: Guardianship) -> str:
    words = READING[GuardianState(row.state)]
    return f"{row.guardian.name}, {words}" if row.guardian else words


@download
def invitations_table(camp: Camp, cohorts: list[Cohort], now: datetime) -> Table:
    """A minor's own address is in no file here either."""
    rows = list(
        Invitation.objects.filter(cohort__in=cohorts)
        .select_related("cohort", "mail")
        .order_by("cohort__name", "-created_at", "-pk")
    )
    came = came_by(rows)
    minors = set(_addresses_of_minors(rows))
    heading = ("cohort", "as", "name", "e-mail", "invited", "holds until", "state", "came in by it")
    lines = (
        (
            row.cohort.name,
            str(row.get_role_display()),
            row.name,
            "" if row.email.lower() in minors else row.email,
            there(camp, row.created_at),
            there(camp, row.expires_at),
            state_words(row, now)[0],
            "; ".join(person.name for person in came.get(row.public_id, [])),
        )
        for row in rows
    )
    return Table("invitations", heading, lines)


def _addresses_of_minors(rows: list[Invitation]) -> Iterable[str]:
    asked = [row.email.lower() for row in rows if row.email]
    found = Minor.objects.filter(person__email__in=asked, grown_at=None)
    return found.values_list("person__email", flat=True)


@download
def plan_table(camp: Camp, cohorts: list[Cohort], now: datetime) -> Table:
    """How far each student is with each task."""
    tasks = list(CampTask.objects.filter(camp=camp).standing().order_by("opens_on", "due_on", "pk"))
    heading = (
        "cohort",
        "student",
        "answered the questions",
        "tried an upload",
        *(f"{task.words} (due {task.due_on:%Y-%m-%d})" for task in tasks),
    )
    rows = []
    for one in arrivals(camp, cohorts, now=now):
        states = {state.task.pk: state.state.replace("_", ", ") for state in one.plan}
        place = one.membership
        told = (
            place.cohort.name if place.cohort else "",
            place.user.name,
            yes_no(one.has_intake),
            yes_no(one.has_tried),
        )
        rows.append((*told, *(states.get(task.pk, "") for task in tasks)))
    return Table("plan", heading, rows)


@download
def films_table(camp: Camp, cohorts: list[Cohort], now: datetime) -> Table:
    """The preview of the retention clock, film by film, the next to go first."""
    heading = ("student", "range day", "clip", "view", "sent", "goes on", "kept for a year more")
    rows = (
        (
            going.clip.submission.student.name,
            going.clip.submission.range_day,
            going.clip.number,
            str(going.clip.get_view_display()),
            there(camp, going.clip.created_at),
            there(camp, going.at),
            yes_no(going.is_kept),
        )
        for going in films_of_camp(camp)
        if going.clip.submission is not None
    )
    return Table("films", heading, rows)
