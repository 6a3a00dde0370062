"""What a student sends after a range session: put together, sent, checked, answered or taken back."""

from __future__ import annotations

from datetime import datetime
from typing import Any, Unpack
from uuid import UUID, uuid4

from django.db import transaction
from django.urls import reverse

from coachhub.accounts.domain.notices import tell
from coachhub.accounts.enums import NoticeKind
from coachhub.accounts.models import Intake, User
from coachhub.camps.enums import CampState, MemberState, Role
from coachhub.camps.models import Camp, Cohort, Membership
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record
from coachhub.videos.domain.answers import Answers, check_answers
from coachhub.videos.domain.consents import refuse_unless_may_send
from coachhub.videos.enums import SUBMISSION_MOVES, ClipState, SubmissionState
from coachhub.videos.models import Submission

UNSETTLED = frozenset({ClipState.RECEIVED, ClipState.PLAYABLE})
ALREADY_SENT = frozenset(
    {SubmissionState.SENT, SubmissionState.USABLE, SubmissionState.REFILM, SubmissionState.ANSWERED}
)


@transaction.atomic
def open_submission(
    student: User,
    cohort: Cohort,
    *,
    now: datetime,
    public_id: UUID | None = None,
    **answers: Unpack[Answers],
) -> Submission:
    """Begin a submission. The same ``public_id`` again (a form sent twice, or gone back to) is the same submission."""
    fields = check_answers(answers, cohort.camp, now=now)
    refuse_unless_taking_part(student, cohort)
    submission, is_new = Submission.objects.get_or_create(
        student=student,
        public_id=_free_id(student, public_id),
        defaults={"camp": cohort.camp, "cohort": cohort, "created_at": now, **fields},
    )
    if not is_new:
        Submission.objects.filter(pk=submission.pk, state=SubmissionState.OPEN).update(**fields)
        submission.refresh_from_db()
        return submission
    record("submission.opened", submission, by=student, now=now, scope=cohort.camp.public_id)
    return submission


@transaction.atomic
def amend_submission(
    submission: Submission, *, by: User, now: datetime, **answers: Unpack[Answers]
) -> Submission:
    """Change what was said about the range session, as long as it was not sent."""
    _refuse_unless_own(submission, by)
    fields = check_answers(answers, submission.camp, now=now)
    if not Submission.objects.filter(pk=submission.pk, state=SubmissionState.OPEN).update(**fields):
        raise RuleBroken(
            "sent", "This was already sent, so it can't be changed. Tell your coach in a message."
        )
    record("submission.amended", submission, by=by, now=now, scope=submission.camp.public_id)
    submission.refresh_from_db()
    return submission


@transaction.atomic
def send_submission(submission: Submission, *, by: User, now: datetime) -> Submission:
    """Hand it to the coach. A second call, as from a double tap, changes nothing."""
    _refuse_unless_own(submission, by)
    submission = Submission.objects.select_for_update().get(pk=submission.pk)
    if submission.state in ALREADY_SENT:
        return submission
    if submission.state == SubmissionState.WITHDRAWN:
        raise RuleBroken("withdrawn", "You took this back. Start a new one to send swings to your coach.")
    refuse_unless_taking_part(submission.student, submission.cohort)
    if not submission.clips.exists():
        raise RuleBroken("no_clip", "Add at least one clip first, and wait until it has arrived.")
    _move(submission, SubmissionState.SENT, sent_at=now)
    record("submission.sent", submission, by=by, now=now, scope=submission.camp.public_id)

    from coachhub.feedback.domain import reviews  # upward: next stage

    reviews.expect_review(submission, now=now)
    return settle_submission(submission, now=now)


@transaction.atomic
def settle_submission(submission: Submission, *, now: datetime) -> Submission:
    """Once every clip is judged, say whether the coach can work with it. Safe to call at any time."""
    # The lock makes two workers that end two clips at the same moment see each other's result.
    submission = Submission.objects.select_for_update().get(pk=submission.pk)
    if submission.state not in (SubmissionState.SENT, SubmissionState.REFILM):
        return submission
    states = set(submission.clips.values_list("state", flat=True))
    verdict = _verdict(states)
    if verdict == submission.state or not _move(submission, verdict, **_settled_at(verdict, now)):
        return submission
    record(f"submission.{verdict}", submission, by=None, now=now, scope=submission.camp.public_id)
    if verdict != SubmissionState.SENT:
        from coachhub.feedback.domain import reviews  # upward: next stage

        reviews.submission_settled(submission, now=now)
    if verdict == SubmissionState.REFILM:
        _tell_to_film_again(submission, now=now)
    return submission


def _tell_to_film_again(submission: Submission, *, now: datetime) -> None:
    """Whoever sent it has closed the page by now. Each round of refused clips is news of its own."""
    newest = submission.clips.order_by("-created_at", "-pk").values_list("public_id", flat=True).first()
    tell(
        submission.student,
        NoticeKind.REFILM,
        about=newest or submission.public_id,
        path=reverse("student:submission", kwargs={"public_id": submission.public_id}),
        guardian_path=reverse("guardian:videos", kwargs={"public_id": submission.student.public_id}),
        scope=submission.camp.public_id,
        now=now,
    )


@transaction.atomic
def withdraw_submission(submission: Submission, *, by: User, now: datetime) -> Submission:
    """Take it back before the answer. The clips go with the retention rules; nobody reviews them any more."""
    _refuse_unless_own(submission, by)
    submission = Submission.objects.select_for_update().get(pk=submission.pk)
    if submission.state == SubmissionState.WITHDRAWN:
        return submission
    if not _move(submission, SubmissionState.WITHDRAWN):
        raise RuleBroken("answered", "Your coach has already answered this, so it can't be taken back.")
    record("submission.withdrawn", submission, by=by, now=now, scope=submission.camp.public_id)

    from coachhub.feedback.domain import reviews  # upward: next stage

    reviews.drop_review(submission, now=now)
    return submission


def last_submission(student: User, camp: Camp) -> Submission | None:
    """What the student said last in this camp: where the next form starts from."""
    said = Submission.objects.filter(student=student, camp=camp).exclude(state=SubmissionState.WITHDRAWN)
    return said.order_by("-range_day", "-created_at").first()


def _free_id(student: User, wanted: UUID | None) -> UUID:
    """The wanted id, unless somebody else's submission has it."""
    wanted = wanted or uuid4()
    taken = Submission.objects.filter(public_id=wanted).exclude(student=student).exists()
    return uuid4() if taken else wanted


def _verdict(states: set[str]) -> str:
    if states & UNSETTLED:
        return SubmissionState.SENT
    return SubmissionState.USABLE if ClipState.USABLE in states else SubmissionState.REFILM


def _settled_at(verdict: str, now: datetime) -> dict[str, datetime | None]:
    return {"settled_at": None if verdict == SubmissionState.SENT else now}


def _move(submission: Submission, to: str, **fields: Any) -> bool:
    sources = [state for state, allowed in SUBMISSION_MOVES.items() if to in allowed]
    hit = Submission.objects.filter(pk=submission.pk, state__in=sources).update(state=to, **fields)
    if hit:
        submission.refresh_from_db()
    return bool(hit)


def _refuse_unless_own(submission: Submission, by: User) -> None:
    if submission.student_id != by.pk:
        raise RuleBroken("not_yours", "Only the student who filmed these swings can do this.")


def refuse_unless_taking_part(student: User, cohort: Cohort) -> None:
    place = Membership.objects.filter(user=student, cohort=cohort, role=Role.STUDENT).first()
    if place is None or place.state == MemberState.LEFT:
        raise RuleBroken(
            "not_in_cohort", "You are not a student of this cohort. Ask the organiser to add you."
        )
    if place.state == MemberState.PAUSED:
        raise RuleBroken("paused", "Your place in this camp is paused. Ask the organiser to wake it up.")
    if cohort.camp.state != CampState.OPEN:
        raise RuleBroken("camp_closed", "This camp is closed, so nothing can be sent any more.")
    if not Intake.objects.filter(user=student).exists():
        raise RuleBroken("no_intake", "Answer the questions about you first; your coach needs them.")
    refuse_unless_may_send(student)
