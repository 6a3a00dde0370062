"""A camp's tasks and its coaches' hello: who may be asked for what, and when."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta

from django.db import IntegrityError, transaction

from coachhub.accounts.models import User
from coachhub.camps.domain.weeks import weeks
from coachhub.camps.models import Camp, CampTask, Cohort, Hello
from coachhub.camps.plan_models import MOST_SWINGS
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record

LONGEST_WORDS = 120
# Before the first day: test upload and baseline.
EARLIEST = timedelta(days=60)


@dataclass(frozen=True)
class TaskPlan:
    words: str
    opens_on: date
    due_on: date
    views: tuple[str, ...]
    swings: int = 3
    club_class: str = ""
    note: str = ""
    is_baseline: bool = False
    known_views: Collection[str] = field(default=("face_on", "dtl"), repr=False)


def due_at(task: CampTask) -> datetime:
    """The end of the task's last day in the camp's zone, at the first moment of the day after."""
    return datetime.combine(task.due_on + timedelta(days=1), time.min, tzinfo=task.camp.zone)


def opens_at(task: CampTask) -> datetime:
    return datetime.combine(task.opens_on, time.min, tzinfo=task.camp.zone)


def days_of_week(camp: Camp, number: int) -> tuple[date, date]:
    """First and last day of one camp week."""
    for week in weeks(camp):
        if week.number == number:
            return week.first_day, week.last_day
    raise RuleBroken("week", f"The camp has weeks 1 to {len(weeks(camp))}, and no week {number}.")


@transaction.atomic
def add_task(camp: Camp, plan: TaskPlan, *, by: User, now: datetime) -> CampTask:
    fields = _checked(camp, plan)
    try:
        with transaction.atomic():
            task = CampTask.objects.create(camp=camp, created_at=now, **fields)
    except IntegrityError as error:
        raise _second_baseline() from error
    record("task.made", task, by=by, now=now, scope=camp.public_id)
    return task


@transaction.atomic
def change_task(task: CampTask, plan: TaskPlan, *, by: User, now: datetime) -> CampTask:
    fields = _checked(task.camp, plan)
    try:
        with transaction.atomic():
            changed = CampTask.objects.standing().filter(pk=task.pk).update(**fields)
    except IntegrityError as error:
        raise _second_baseline() from error
    if not changed:
        raise RuleBroken("retired", "This task was taken out in the meantime.")
    record("task.changed", task, by=by, now=now, scope=task.camp.public_id)
    task.refresh_from_db()
    return task


@transaction.atomic
def retire_task(task: CampTask, *, by: User, now: datetime) -> CampTask:
    """Nobody is asked for it any more. Twice is once."""
    if CampTask.objects.standing().filter(pk=task.pk).update(retired_at=now):
        record("task.retired", task, by=by, now=now, scope=task.camp.public_id)
    task.refresh_from_db(fields=["retired_at"])
    return task


@transaction.atomic
def copy_tasks(old: Camp, camp: Camp, *, by: User, now: datetime) -> list[CampTask]:
    """The same tasks, as many days after the new camp's first day; what would lie beyond its last day stays behind."""
    shift = camp.starts_on - old.starts_on
    rows = [
        CampTask(
            camp=camp,
            words=task.words,
            note=task.note,
            opens_on=task.opens_on + shift,
            due_on=min(task.due_on + shift, camp.ends_on),
            club_class=task.club_class,
            views=task.views,
            swings=task.swings,
            is_baseline=task.is_baseline,
            created_at=now,
        )
        for task in old.tasks.standing()
        if task.opens_on + shift <= camp.ends_on
    ]
    made = CampTask.objects.bulk_create(rows)
    record(
        "task.copied",
        camp,
        by=by,
        now=now,
        scope=camp.public_id,
        tasks=len(made),
        from_camp=str(old.public_id),
    )
    return made


@transaction.atomic
def say_hello(cohort: Cohort, words: str, *, by: User, now: datetime) -> Hello | None:
    """A coach's hello, in place of the same coach's older one; without words there is none."""
    said = words.strip()
    if len(said) > 2000:
        raise RuleBroken("words", "That is too long: at most 2000 characters.")
    if not said:
        rows = Hello.objects.filter(cohort=cohort, by=by)
        if rows.filter(recordings__isnull=False).exists():
            raise RuleBroken(
                "words",
                "Keep the words: they are for those who can't hear. To have none, delete the recording.",
            )
        rows.delete()
        return None
    hello, _ = Hello.objects.update_or_create(
        cohort=cohort, by=by, defaults={"words": said}, create_defaults={"words": said, "created_at": now}
    )
    record("hello.said", hello, by=by, now=now, scope=cohort.camp.public_id)
    return hello


def _second_baseline() -> RuleBroken:
    return RuleBroken("is_baseline", "The camp has its baseline already. Change that one.")


def _checked(camp: Camp, plan: TaskPlan) -> dict[str, object]:
    words = plan.words.strip()
    if not 1 <= len(words) <= LONGEST_WORDS:
        raise RuleBroken("words", f"Say the task in 1 to {LONGEST_WORDS} characters.")
    if not plan.views or set(plan.views) - set(plan.known_views):
        raise RuleBroken("views", "Choose face-on, down-the-line or both.")
    if not 1 <= plan.swings <= MOST_SWINGS:
        raise RuleBroken("swings", f"Ask for 1 to {MOST_SWINGS} swings from each view.")
    if plan.due_on < plan.opens_on:
        raise RuleBroken("due_on", "A task is due on the day it opens, or later.")
    if plan.opens_on < camp.starts_on - EARLIEST or plan.due_on > camp.ends_on:
        raise RuleBroken("due_on", "A task lies within the camp, or in the 60 days before its first day.")
    return {
        "words": words,
        "note": plan.note.strip(),
        "opens_on": plan.opens_on,
        "due_on": plan.due_on,
        "club_class": plan.club_class,
        "views": [view for view in plan.known_views if view in plan.views],
        "swings": plan.swings,
        "is_baseline": plan.is_baseline,
    }
