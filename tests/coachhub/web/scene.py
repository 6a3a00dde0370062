"""One of everything, belonging to the cast: what the addresses of the permission table point at."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from coachhub.accounts.domain.doors import open_door
from coachhub.accounts.domain.notices import tell
from coachhub.accounts.domain.tokens import make_token
from coachhub.accounts.enums import NoticeKind
from coachhub.accounts.models import ApiToken, Door, Guardianship, Notice, User
from coachhub.camps.models import Concern, Invitation, Membership
from coachhub.feedback.enums import MessageKind, ReviewState
from coachhub.feedback.models import (
    Case,
    CasePost,
    Drill,
    Explanation,
    FindingVersion,
    Lesson,
    LessonDelivery,
    Message,
    Observation,
    ParkedPriority,
    Question,
    Review,
    SayBack,
    TalkThrough,
    Thread,
    VoiceNote,
)
from coachhub.swings.models import Swing
from coachhub.videos.enums import SubmissionState
from coachhub.videos.models import Clip, Reference, Submission, Upload
from tests import factories
from tests.cast import Cast, make_cast
from tests.factories import NOW

# Words that stand in nobody's page but those who may read them.
SECRET_NOTE = "my left thumb hurts since Tuesday"
SECRET_ANSWER = "let the turf tell you where the club met it"
SECRET_MESSAGE = "the ball started on line all evening"


@dataclass(frozen=True)
class Scene:
    cast: Cast
    membership: Membership
    coach_membership: Membership
    invitation: Invitation
    draft: Submission
    submission: Submission
    clip: Clip
    swing: Swing
    review: Review
    answered: Submission
    published: Review
    voice: VoiceNote
    explanation: Explanation
    talk: TalkThrough
    thread: Thread
    drill: Drill
    own_drill: Drill
    parked: ParkedPriority
    delivery: LessonDelivery
    upload: Upload
    reference: Reference
    bare_reference: Reference
    key: ApiToken
    door: Door
    notice: Notice
    seen: Observation
    question: Question
    said: SayBack
    minor_membership: Membership
    minor_thread: Thread
    minor_answer: Review
    guardianship: Guardianship
    named: Guardianship
    concern: Concern
    case: Case
    posted_case: Case


def _note(thread: Thread, author: User, now: datetime) -> Message:
    return Message.objects.create(
        thread=thread, author=author, kind=MessageKind.NOTE, text=SECRET_MESSAGE, created_at=now
    )


def _case(swing: Swing, by: User, **fields: Any) -> Case:
    """Covered and ready to be looked through; ``fields`` say how far it is beyond that."""
    submission = swing.clip.submission
    assert submission is not None
    return Case.objects.create(
        cohort=submission.cohort,
        student=submission.student,
        by=by,
        swing=swing,
        title="Where the turf is touched",
        words="Look where the club meets the ground.",
        folder_key="cases/none",
        facts={"frames": 3, "sheets": [[0, 2]], "whole": 0},
        job_state="done",
        queued_at=NOW,
        created_at=NOW,
        **fields,
    )


def make_scene() -> Scene:
    cast = make_cast()
    student, cohort = cast.student, cast.cohort
    # Real people come back at real times: links and uploads of the scene must not be out of date.
    from django.utils import timezone

    soon = timezone.now() + timedelta(days=2)
    draft = factories.make_submission(
        student, cohort, state=SubmissionState.OPEN, sent_at=None, settled_at=None
    )
    submission = factories.make_submission(student, cohort, note=SECRET_NOTE)
    clip = factories.make_clip(submission)
    swing = factories.make_swing(clip, signs={"early_release": "likely"})
    review = factories.make_review(submission)
    answered = factories.make_submission(student, cohort, state=SubmissionState.ANSWERED)
    factories.make_swing(factories.make_clip(answered), signs={"early_release": "likely"})
    published = factories.make_review(
        answered,
        state=ReviewState.PUBLISHED,
        published_at=NOW,
        published_by=cast.coach,
        claimed_by=cast.coach,
        priority=SECRET_ANSWER,
    )
    FindingVersion.objects.create(
        review=published,
        number=1,
        by=cast.coach,
        root_kind="idea",
        root_node="bel_lift",
        miss_nodes=["bf_pull"],
        created_at=NOW,
    )
    minor = cast.minor
    minor_thread = factories.make_thread(minor, cohort)
    _note(minor_thread, cast.coach, NOW)
    minor_sent = factories.make_submission(minor, cohort, state=SubmissionState.ANSWERED, note=SECRET_NOTE)
    factories.make_swing(factories.make_clip(minor_sent))
    minor_answer = factories.make_review(
        minor_sent,
        state=ReviewState.PUBLISHED,
        published_at=NOW,
        published_by=cast.coach,
        claimed_by=cast.coach,
        priority=SECRET_ANSWER,
    )
    thread = factories.make_thread(student, cohort)
    Message.objects.create(
        thread=thread, author=student, kind=MessageKind.REPLY, text=SECRET_MESSAGE, created_at=NOW
    )
    approved = {"approved_by": cast.coach, "approved_at": NOW, "posted_at": NOW}
    posted_case = _case(swing, cast.coach, state="posted", **approved)
    told = _note(factories.make_thread(cast.cohort_mate, cohort), cast.coach, NOW)
    CasePost.objects.create(case=posted_case, student=cast.cohort_mate, message=told)
    reference = factories.make_reference(cast.coach, cast.camp)
    factories.make_swing(factories.make_clip(None, reference=reference))
    return Scene(
        cast=cast,
        membership=Membership.objects.get(user=student, cohort=cohort),
        coach_membership=Membership.objects.get(user=cast.coach, cohort=cohort),
        invitation=Invitation.objects.create(
            cohort=cohort, made_by=cast.organiser, expires_at=soon, created_at=NOW
        ),
        draft=draft,
        submission=submission,
        clip=clip,
        swing=swing,
        review=review,
        answered=answered,
        published=published,
        voice=VoiceNote.objects.create(
            review=published, source_key="voice/source", job_state="done", queued_at=NOW, created_at=NOW
        ),
        explanation=Explanation.objects.create(
            coach=cast.coach,
            title="Low point",
            audio_key="voice/explanations/none.m4a",
            duration_ms=900,
            created_at=NOW,
        ),
        talk=TalkThrough.objects.create(
            review=published,
            by=cast.coach,
            script={"cuts": [[1, 0, 900]], "events": []},
            timeline={"duration_ms": 900, "events": []},
            audio_key="talks/playable/none.m4a",
            job_state="done",
            queued_at=NOW,
            created_at=NOW,
        ),
        thread=thread,
        drill=factories.make_drill(),
        own_drill=factories.make_drill(camp=cast.camp),
        parked=ParkedPriority.objects.create(
            camp=cast.camp, student=student, by=cast.coach, words="a fuller finish", created_at=NOW
        ),
        delivery=LessonDelivery.objects.create(
            lesson=Lesson.objects.create(
                camp=cast.camp,
                by=cast.coach,
                ground="miss",
                key="bf_pull",
                text="For all of you.",
                drill=factories.make_drill(),
                created_at=NOW,
            ),
            message=_note(thread, cast.coach, NOW),
            with_drill=True,
        ),
        upload=Upload.objects.create(
            owner=student, submission=draft, view="face_on", length=100, expires_at=soon, created_at=NOW
        ),
        reference=reference,
        seen=Observation.objects.create(
            review=review, look="wrist_top", value="cupped", by=cast.coach, created_at=NOW
        ),
        question=Question.objects.create(
            review=review, node="bel_lift", asked=_note(thread, cast.coach, NOW), created_at=NOW
        ),
        said=SayBack.objects.create(review=published, message=_note(thread, student, NOW), created_at=NOW),
        bare_reference=factories.make_reference(cast.coach, cast.camp, is_shared=False),
        minor_membership=Membership.objects.get(user=minor, cohort=cohort),
        minor_thread=minor_thread,
        minor_answer=minor_answer,
        guardianship=Guardianship.objects.get(child=minor),
        named=Guardianship.objects.create(
            child=minor, email="second@example.org", invited_by=minor, expires_at=soon, created_at=NOW
        ),
        concern=Concern.objects.create(
            camp=cast.camp, child=minor, by=cast.guardian, about=cast.coach, words=SECRET_NOTE, created_at=NOW
        ),
        case=_case(swing, cast.coach),
        posted_case=posted_case,
        key=make_token(student, name="tests", days=30, may_write=False, by=student, now=NOW)[0],
        notice=tell(student, NoticeKind.ANSWER, about="scene", path="/my/", now=NOW)[0],
        door=open_door(student, session_key="not-a-session", agent="", now=NOW),
    )
