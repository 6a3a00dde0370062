"""Uploads and media work of somebody whose consent ended, and going on with it once it is given again."""

from __future__ import annotations

from datetime import datetime

from coachhub.accounts.domain.consent import NEEDED_TO_SEND, allows, refuse_unless_allowed
from coachhub.accounts.enums import Purpose
from coachhub.accounts.models import User
from coachhub.videos.enums import ClipState, ClipWork, UploadState
from coachhub.videos.models import Clip, Upload


def refuse_unless_may_send(student: User) -> None:
    refuse_unless_allowed(student, *NEEDED_TO_SEND)


def end_uploads(person: User, *, now: datetime) -> int:
    """What is still on its way in is thrown away."""
    from coachhub.videos.domain.uploads import end_upload

    growing = Upload.objects.filter(submission__student=person, state=UploadState.GROWING)
    return sum(end_upload(upload, now=now) for upload in growing)


def may_be_measured(clip: Clip) -> bool:
    """A coach's reference needs nobody's leave here; a student's clip needs the student's, or the guardian's."""
    submission = clip.submission
    return submission is None or allows(submission.student, Purpose.ANALYSIS)


def resume_work(person: User, *, now: datetime) -> int:
    """Clips that arrived before the consent ended are checked and measured after all."""
    from coachhub.swings.domain.runs import request_run  # upward: next stage
    from coachhub.videos.domain.jobs import request_work, send

    left = Clip.objects.filter(
        submission__student=person, state__in=(ClipState.RECEIVED, ClipState.PLAYABLE)
    ).select_related("submission")
    for clip in left:
        if clip.state == ClipState.RECEIVED:
            send(request_work(clip, ClipWork.CHECK, now=now))
        else:
            request_run(clip, now=now)
            request_work(clip, ClipWork.RENDITION, now=now)
    return len(left)
