"""Who may do what with submissions and their clips."""

from __future__ import annotations

from typing import Any

from coachhub.accounts.models import User
from coachhub.camps.rules import camp_is_open, coaches, takes_part
from coachhub.common.rules import predicate, rule
from coachhub.videos.enums import SubmissionState
from coachhub.videos.models import Clip, Reference, Submission

TAKES_CLIPS = frozenset({SubmissionState.OPEN, SubmissionState.SENT, SubmissionState.REFILM})


def submission_of(obj: Any) -> Submission:
    submission = obj if isinstance(obj, Submission) else obj.submission
    assert isinstance(submission, Submission)
    return submission


@predicate
def filmed(user: User, obj: Any) -> bool:
    return submission_of(obj).student_id == user.pk


@predicate
def studies_there(user: User, obj: Any) -> bool:
    """Neither paused nor gone, in a camp that is open."""
    submission = submission_of(obj)
    return takes_part(user, submission) and camp_is_open(user, submission)


@predicate
def coaches_there(user: User, obj: Any) -> bool:
    return coaches(user, submission_of(obj))


@predicate
def takes_clips(_: User, obj: Any) -> bool:
    """Until the clips are judged usable; a filming that was refused takes new ones."""
    return submission_of(obj).state in TAKES_CLIPS


@predicate
def is_sent_clip(_: User, obj: Any) -> bool:
    return isinstance(obj, Clip) and obj.submission_id is not None


@predicate
def owns(user: User, obj: Any) -> bool:
    return isinstance(obj, Reference) and obj.owner_id == user.pk


rule("videos.add_clip", filmed & studies_there & takes_clips)
rule("videos.send", filmed)
rule("videos.amend", filmed)
rule("videos.withdraw", filmed)
rule("videos.allow_refused_clip", is_sent_clip & coaches_there)
rule("videos.add_reference", coaches & camp_is_open)
rule("videos.edit_reference", owns)
