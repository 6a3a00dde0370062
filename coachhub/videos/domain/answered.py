from __future__ import annotations

from datetime import datetime

from django.db import transaction

from coachhub.accounts.models import User
from coachhub.common.domain.events import record
from coachhub.videos.enums import SubmissionState
from coachhub.videos.models import Submission


@transaction.atomic
def mark_answered(submission: Submission, *, by: User, now: datetime) -> bool:
    """The coach's answer is out. False: it was answered or taken back before, and nothing changed."""
    hit = Submission.objects.filter(pk=submission.pk, state=SubmissionState.USABLE).update(
        state=SubmissionState.ANSWERED
    )
    if hit:
        record("submission.answered", submission, by=by, now=now, scope=submission.camp.public_id)
    return bool(hit)
