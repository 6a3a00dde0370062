"""Cases: begun by a coach, looked through by a person, posted to students, taken down by whoever may.

Whom a case shows agrees twice: to being shown at all (the consent ``cohort``), and, if they want, to being named.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.db import transaction

from coachhub.accounts.domain.consent import refuse_unless_allowed
from coachhub.accounts.domain.guardians import answers_for
from coachhub.accounts.domain.minors import under_guard
from coachhub.accounts.enums import Purpose
from coachhub.accounts.models import Notice, User
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record
from coachhub.common.domain.later import after_commit
from coachhub.common.enums import JobState
from coachhub.common.rules import can
from coachhub.feedback.domain.lessons import own_students
from coachhub.feedback.domain.threads import post_lesson, thread_for
from coachhub.feedback.enums import CaseState
from coachhub.feedback.models import Case, CasePost, Message, Review, TalkThrough
from coachhub.swings.domain.files import drop_folder
from coachhub.swings.models import Swing

MARGINS = (1.0, 1.5, 2.0)
TOLD = (
    "A swing of yours is shown to others of the camp as a lesson, as was agreed: face covered, without name and sound. "
    "It can be taken down at any time, without a reason."
)


@transaction.atomic
def begin_case(
    review: Review,
    *,
    swing: Swing | None = None,
    talk: TalkThrough | None = None,
    title: str,
    words: str,
    by: User,
    now: datetime,
) -> Case:
    """Have the covered film made of one swing of a submission, or of one talk about it."""
    submission = review.submission
    if not can(by, "feedback.review", review):
        raise RuleBroken("not_a_coach", "Only a coach of this cohort can make a case.")
    refuse_unless_allowed(submission.student, Purpose.COHORT)
    if (swing is None) == (talk is None):
        raise RuleBroken("choose", "Choose one swing or one talk.")
    if swing is not None and swing.clip.submission_id != submission.pk:
        raise ValueError(f"swing must be of submission {submission.public_id}, not {swing.public_id}")
    if talk is not None and (talk.review_id != review.pk or talk.job_state != JobState.DONE):
        raise RuleBroken("not_ready", "This talk is still being prepared. Try again in a moment.")
    case = Case.objects.create(
        cohort=submission.cohort,
        student=submission.student,
        by=by,
        swing=swing,
        talk=talk,
        title=_line(title),
        words=_text(words),
        queued_at=now,
        created_at=now,
    )
    _refuse_names(case)
    record("case.begun", case, by=by, now=now, scope=submission.camp.public_id)
    after_commit(send, case.pk)
    return case


def send(case_id: int) -> None:
    from coachhub.feedback.tasks import cover_case

    cover_case.delay(case_id)


def _line(title: str) -> str:
    line = " ".join(title.replace("\x00", "").split())
    if not 1 <= len(line) <= 120:
        raise RuleBroken("title", "Give the case a title of up to 120 characters.")
    return line


def _text(words: str) -> str:
    text = words.replace("\x00", "").strip()
    if not 1 <= len(text) <= 4000:
        raise RuleBroken("words", "Write what is to be learnt from it, in up to 4000 characters.")
    return text


def _refuse_names(case: Case) -> None:
    """The name is removed everywhere; a coach's sentence is where it would slip in."""
    said = f"{case.title} {case.words}".casefold()
    parts = {part for part in case.student.name.casefold().split() if len(part) > 2}
    words = {
        "".join(c for c in word if c.isalnum()) for word in said.replace("’", "'").replace("'s", " ").split()
    }
    if parts & words or case.student.name.casefold() in said:
        raise RuleBroken("named", "The title or the text names the student. Write it without the name.")


@transaction.atomic
def cover_again(case: Case, *, margin: float, by: User, now: datetime) -> Case:
    """With another margin; what was looked through counts no more."""
    if margin not in MARGINS:
        raise ValueError(f"margin must be one of {MARGINS}, not {margin}")
    case = _of_coach(case, by)
    if case.state == CaseState.POSTED:
        raise RuleBroken("posted", "It is shown already. Take it down and make it anew.")
    if case.job_state in (JobState.WAITING, JobState.RUNNING):
        raise RuleBroken("under_way", "It is being covered just now.")
    old = case.folder_key
    Case.objects.filter(pk=case.pk).update(
        state=CaseState.DRAFT,
        margin=margin,
        folder_key="",
        looked=[],
        facts={},
        approved_by=None,
        approved_at=None,
        job_state=JobState.WAITING,
        attempts=0,
        queued_at=now,
        error_code="",
        error_text="",
    )
    if old:
        after_commit(drop_folder, old)
    after_commit(send, case.pk)
    case.refresh_from_db()
    return case


@transaction.atomic
def look_at(case: Case, sheets: Iterable[int], *, by: User, now: datetime) -> Case:
    """A coach says to have looked at these sheets: nobody can be known on them."""
    case = _of_coach(case, by)
    every = range(1, len(case.facts.get("sheets", ())) + 1)
    if wrong := [number for number in sheets if number not in every]:
        raise ValueError(f"sheets must be in 1..{len(every)}, not {wrong}")
    case.looked = sorted({*case.looked, *sheets})
    case.save(update_fields=["looked"])
    return case


@transaction.atomic
def approve(case: Case, *, heard: bool = False, by: User, now: datetime) -> Case:
    """Every sheet was looked at, and a talk was listened to: the film may be shown."""
    case = _of_coach(case, by)
    if case.state != CaseState.DRAFT:
        return case
    refuse_unless_allowed(case.student, Purpose.COHORT)
    if case.job_state != JobState.DONE:
        raise RuleBroken("not_ready", "The covered film is not ready yet.")
    left = [n for n in range(1, len(case.facts["sheets"]) + 1) if n not in case.looked]
    if left:
        raise RuleBroken("not_looked", f"Look at every sheet first. Left: {', '.join(map(str, left))}.")
    if case.talk_id and not heard:
        raise RuleBroken("not_heard", "Listen to the talk to its end first: a name may be said in it.")
    Case.objects.filter(pk=case.pk, state=CaseState.DRAFT).update(
        state=CaseState.APPROVED, approved_by=by, approved_at=now
    )
    case.refresh_from_db()
    record("case.approved", case, by=by, now=now, scope=case.cohort.camp.public_id)
    return case


@transaction.atomic
def post_case(case: Case, students: Iterable[User], *, by: User, now: datetime) -> Case:
    """To those of the students whom the coach teaches; whom it shows is told as well."""
    case = _of_coach(case, by)
    if case.state != CaseState.APPROVED:
        raise RuleBroken("not_approved", "Look the film through first.")
    refuse_unless_allowed(case.student, Purpose.COHORT)
    camp = case.cohort.camp
    places = [place for place in own_students(camp, students, by) if place.user_id != case.student_id]
    if not places:
        raise RuleBroken("nobody", "There is nobody in your cohorts to show it to just now.")
    if not Case.objects.filter(pk=case.pk, state=CaseState.APPROVED).update(
        state=CaseState.POSTED, posted_at=now
    ):
        raise RuleBroken("posted", "It is shown already.")
    for place in places:
        _tell(case, place.user, f"{case.title}\n\n{case.words}", by=by, now=now)
    _tell(case, case.student, TOLD, by=by, now=now)
    record("case.posted", case, by=by, now=now, scope=camp.public_id, students=len(places))
    case.refresh_from_db()
    return case


def _tell(case: Case, student: User, text: str, *, by: User, now: datetime) -> None:
    thread = thread_for(student, case.cohort.camp, now=now)
    CasePost.objects.create(
        case=case, student=student, message=post_lesson(thread, by=by, text=text[:4000], now=now)
    )


@transaction.atomic
def show_name(case: Case, shows: bool, *, by: User, now: datetime) -> Case:
    """A choice of its own, by the grown-up whom the case shows."""
    if by.pk != case.student_id or under_guard(by):
        raise RuleBroken("not_yours", "Only a grown-up can choose to be named, and only for themselves.")
    Case.objects.filter(pk=case.pk).update(shows_name=shows)
    case.refresh_from_db()
    record("case.named" if shows else "case.unnamed", case, by=by, now=now, scope=case.cohort.camp.public_id)
    return case


def may_take_down(case: Case, by: User) -> bool:
    """Whom it shows, a guardian who answers for them, the coaches and organisers."""
    own = by.pk == case.student_id or answers_for(by, case.student)
    return own or can(by, "feedback.see_private_note", case)


@transaction.atomic
def take_down(case: Case, *, by: User | None, now: datetime) -> None:
    """Out of everywhere: page, film, sheets, and the lines in the talks that led there. ``by`` None: a rule did it."""
    if by is not None and not may_take_down(case, by):
        raise RuleBroken(
            "not_yours", "Only whom it shows, a guardian, a coach or an organiser can take it down."
        )
    case = Case.objects.select_for_update().get(pk=case.pk)
    record("case.taken_down", case, by=by, now=now, scope=case.cohort.camp.public_id)
    told = Message.objects.filter(case_post__case=case)
    about = [str(each) for each in (case.public_id, *told.values_list("public_id", flat=True))]
    Notice.objects.filter(about__in=about).delete()
    told.delete()
    if case.folder_key:
        after_commit(drop_folder, case.folder_key)
    case.delete()


def take_down_for(person: User, *, now: datetime) -> int:
    """Every case that shows the person, posted or not: the consent ended."""
    cases = list(Case.objects.filter(student=person))
    for case in cases:
        take_down(case, by=None, now=now)
    return len(cases)


def _of_coach(case: Case, by: User) -> Case:
    if not can(by, "feedback.review", case):
        raise RuleBroken("not_a_coach", "Only a coach of this cohort can do this.")
    return Case.objects.select_for_update().get(pk=case.pk)
