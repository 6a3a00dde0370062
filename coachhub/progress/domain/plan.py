"""How far a student is with the camp's tasks, from what was sent and can be used. A swing counts for one task only."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from django.db.models import Count, F, QuerySet

from coachhub.accounts.models import Intake, User
from coachhub.camps.domain.plan import due_at, opens_at
from coachhub.camps.domain.weeks import local_day
from coachhub.camps.enums import MemberState
from coachhub.camps.models import Camp, CampTask, Cohort, Invitation, Membership
from coachhub.videos.enums import ClipState, SubmissionState
from coachhub.videos.models import Clip

# From here on "open" is called "due".
SOON = timedelta(hours=48)


@dataclass(frozen=True)
class TaskState:
    """``state``: ``upcoming``, ``open``, ``due`` (within two days), ``late``, ``done`` or ``done_late``."""

    task: CampTask
    state: str
    due_at: datetime
    # For each view: swings counted, and how many are wanted.
    counted: dict[str, int] = field(default_factory=dict)
    # Sent, and not checked yet: they may still count.
    being_checked: int = 0

    @property
    def is_done(self) -> bool:
        return self.state.startswith("done")

    @property
    def missing(self) -> dict[str, int]:
        gaps = {view: self.task.swings - self.counted.get(view, 0) for view in self.task.views}
        return {view: gap for view, gap in gaps.items() if gap > 0}


@dataclass
class _Pool:
    """Swings of one clip that no task has taken yet."""

    day: date
    club_class: str
    view: str
    left: int


def plan_of(membership: Membership, *, now: datetime) -> list[TaskState]:
    """The standing tasks of the student's camp in the order they are due."""
    return plans_of([membership], now=now)[membership.pk]


def plans_of(memberships: Iterable[Membership], *, now: datetime) -> dict[int, list[TaskState]]:
    """The same for many students of one camp, by membership, with as many queries as for one."""
    places = list(memberships)
    if not places:
        return {}
    camp = places[0].camp
    if any(place.camp_id != camp.pk for place in places):
        raise ValueError("memberships must all be of one camp")
    tasks = list(camp.tasks.standing().order_by("due_on", "opens_on", "pk"))
    for task in tasks:
        task.camp = camp
    pools, checking = _sent(camp, [place.user_id for place in places])
    return {
        place.pk: _states(tasks, pools[place.user_id], checking[place.user_id], now=now) for place in places
    }


def _sent(camp: Camp, people: list[int]) -> tuple[dict[int, list[_Pool]], dict[int, list[_Pool]]]:
    """Per student: usable swings, and clips still being checked, oldest first."""
    clips = _clips(camp, people).annotate(found=Count("swings"), at=F("submission__sent_at"))
    pools: dict[int, list[_Pool]] = defaultdict(list)
    checking: dict[int, list[_Pool]] = defaultdict(list)
    for clip in clips.order_by("submission__sent_at", "pk").select_related("submission"):
        sent = clip.submission
        assert sent is not None and sent.sent_at is not None
        is_usable = clip.state == ClipState.USABLE
        # A clip that a coach let through by hand shows one swing, though none was found in it.
        pool = _Pool(local_day(camp, sent.sent_at), sent.club_class, clip.view, max(clip.found, 1))
        (pools if is_usable else checking)[sent.student_id].append(pool)
    return pools, checking


def _clips(camp: Camp, people: list[int]) -> QuerySet[Clip]:
    rows = Clip.objects.filter(submission__camp=camp, submission__student_id__in=people)
    return (
        rows.exclude(submission__sent_at=None)
        .exclude(submission__state__in=(SubmissionState.OPEN, SubmissionState.WITHDRAWN))
        .exclude(state=ClipState.REFUSED)
    )


def _states(
    tasks: list[CampTask], pools: list[_Pool], checking: list[_Pool], *, now: datetime
) -> list[TaskState]:
    counted: dict[int, Counter[str]] = {task.pk: Counter() for task in tasks}
    # First each task from its own days, then the overdue ones from what is left of later days.
    for task in tasks:
        _take(task, counted[task.pk], [p for p in pools if task.opens_on <= p.day <= task.due_on])
    in_time = {task.pk for task in tasks if _is_full(task, counted[task.pk])}
    for task in tasks:
        _take(task, counted[task.pk], [p for p in pools if p.day > task.due_on])
    return [
        TaskState(
            task=task,
            state=_state(task, counted[task.pk], in_time=task.pk in in_time, now=now),
            due_at=due_at(task),
            counted=dict(counted[task.pk]),
            being_checked=sum(_fits(task, p) and p.day >= task.opens_on for p in checking),
        )
        for task in tasks
    ]


def _fits(task: CampTask, pool: _Pool) -> bool:
    return pool.view in task.views and task.club_class in ("", pool.club_class)


def _take(task: CampTask, counted: Counter[str], pools: list[_Pool]) -> None:
    for pool in pools:
        if not _fits(task, pool):
            continue
        taken = min(pool.left, task.swings - counted[pool.view])
        counted[pool.view] += taken
        pool.left -= taken


def _is_full(task: CampTask, counted: Counter[str]) -> bool:
    return all(counted[view] >= task.swings for view in task.views)


def _state(task: CampTask, counted: Counter[str], *, in_time: bool, now: datetime) -> str:
    if _is_full(task, counted):
        return "done" if in_time else "done_late"
    if now < opens_at(task):
        return "upcoming"
    if now >= due_at(task):
        return "late"
    return "due" if due_at(task) - now <= SOON else "open"


@dataclass(frozen=True)
class Arrival:
    """What a student has behind before the first day."""

    membership: Membership
    has_intake: bool
    has_tried: bool
    # All that came so far was refused: the phone, the place or the light isn't right yet.
    is_refused: bool
    baseline: TaskState | None
    plan: list[TaskState]

    @property
    def late(self) -> list[TaskState]:
        return [one for one in self.plan if one.state == "late"]

    @property
    def is_ready(self) -> bool:
        is_tried = self.has_tried and not self.is_refused
        return self.has_intake and is_tried and (self.baseline is None or self.baseline.is_done)


def arrivals(camp: Camp, cohorts: Iterable[Cohort], *, now: datetime) -> list[Arrival]:
    """The students of these cohorts who still take part, by name."""
    rows = Membership.objects.students().filter(camp=camp, cohort__in=list(cohorts))
    places = list(
        rows.exclude(state=MemberState.LEFT).select_related("user", "camp", "cohort").order_by("user__name")
    )
    return _beside(camp, places, now)


def arrival_of(membership: Membership, *, now: datetime) -> Arrival:
    return _beside(membership.camp, [membership], now)[0]


def _beside(camp: Camp, places: list[Membership], now: datetime) -> list[Arrival]:
    people = [place.user_id for place in places]
    states: dict[int, set[str]] = defaultdict(set)
    clips = Clip.objects.filter(submission__camp=camp, submission__student_id__in=people)
    for person_id, state in clips.values_list("submission__student_id", "state").distinct():
        states[person_id].add(state)
    told = set(Intake.objects.filter(user_id__in=people).values_list("user_id", flat=True))
    plans = plans_of(places, now=now)
    return [_arrival(p, plans[p.pk], states[p.user_id], has_intake=p.user_id in told) for p in places]


def _arrival(place: Membership, plan: list[TaskState], states: set[str], *, has_intake: bool) -> Arrival:
    return Arrival(
        membership=place,
        has_intake=has_intake,
        has_tried=bool(states),
        is_refused=states == {ClipState.REFUSED},
        baseline=next((one for one in plan if one.task.is_baseline), None),
        plan=plan,
    )


def not_in_yet(cohorts: Iterable[Cohort], *, now: datetime) -> list[Invitation]:
    """Personal invitations that nobody has used and that still hold."""
    rows = Invitation.objects.filter(cohort__in=list(cohorts), uses=0, withdrawn_at=None, expires_at__gt=now)
    return list(rows.exclude(email="").select_related("cohort").order_by("name", "email"))


def earlier_places(person: User, camp: Camp) -> list[Membership]:
    """A returning camper's other camps as a student, newest first."""
    rows = Membership.objects.students().filter(user=person).exclude(camp=camp)
    return list(rows.select_related("camp", "cohort").order_by("-camp__starts_on", "-pk"))
