"""A case of the demo camp: a covered film of one swing, shown to the cohort."""

from __future__ import annotations

import time

from django.utils import timezone

from coachhub.accounts.models import User
from coachhub.camps.models import Membership
from coachhub.common.enums import JobState
from coachhub.feedback.domain.case_covering import make_case
from coachhub.feedback.domain.cases import approve, begin_case, look_at, post_case
from coachhub.feedback.enums import CaseState
from coachhub.feedback.models import Case
from coachhub.progress.demo.scenario import Data, Student
from coachhub.progress.demo.story import Stage
from coachhub.swings.models import Swing

# A worker of the running site may have taken the film up first.
LONGEST_S, LOOK_EVERY_S = 300.0, 0.5


def show_case(stage: Stage, student: Student, step: Data) -> None:
    """Begun, covered, approved and posted; what is there already goes on where it was.

    In a real camp a person looks at every sheet. Nobody is on these: the swings are drawn by a computer.
    """
    coach, now = stage.people[step["by"]], stage.at(step)
    case = _begun(stage, step)
    if case.state == CaseState.POSTED or not _is_covered(case):
        return
    look_at(case, range(1, len(case.facts["sheets"]) + 1), by=coach, now=now)
    case = approve(case, by=coach, now=now)
    post_case(case, _cohort(case), by=coach, now=now)


def _begun(stage: Stage, step: Data) -> Case:
    review = stage.review(step["of"])
    found = Case.objects.filter(swing__clip__submission=review.submission_id, title=step["title"]).first()
    if found is not None:
        return found
    swings = Swing.objects.filter(clip__submission=review.submission_id).order_by("clip__number", "number")
    return begin_case(
        review,
        swing=swings[step["swing"] - 1],
        title=step["title"],
        words=step["words"],
        by=stage.people[step["by"]],
        now=stage.at(step),
    )


def _is_covered(case: Case) -> bool:
    """Made here unless a worker is at it; false where it can't be made."""
    make_case(case.pk, clock=timezone.now)
    end = time.monotonic() + LONGEST_S
    case.refresh_from_db()
    while case.job_state in (JobState.WAITING, JobState.RUNNING) and time.monotonic() < end:
        time.sleep(LOOK_EVERY_S)
        case.refresh_from_db()
    return case.job_state == JobState.DONE


def _cohort(case: Case) -> list[User]:
    places = Membership.objects.students().filter(cohort=case.cohort).select_related("user")
    return [place.user for place in places]
