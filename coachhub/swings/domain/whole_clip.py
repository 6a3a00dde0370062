"""What a coach points at: a swing, or a whole clip where nothing could be measured."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from uuid import UUID

from coachhub.swings.models import Swing
from coachhub.videos.models import Clip, Submission

SHORTEST_S = 0.001


def swings_by_id(submission: Submission, ids: Iterable[UUID], *, now: datetime) -> dict[UUID, Swing]:
    """The submission's swings by the ids given; a clip's id stands for its first swing, made if there is none."""
    wanted = set(ids)
    found = {
        swing.public_id: swing
        for swing in Swing.objects.filter(clip__submission=submission, public_id__in=wanted)
    }
    for clip in Clip.objects.filter(submission=submission, public_id__in=wanted - set(found)):
        found[clip.public_id] = whole_clip_swing(clip, now=now)
    return found


def whole_clip_swing(clip: Clip, *, now: datetime) -> Swing:
    """The clip as one swing without numbers, so that drawings have something to hang on."""
    first = clip.swings.order_by("number").first()
    if first is not None:
        return first
    end_s = max(clip.duration_s or 0.0, SHORTEST_S)
    swing, _ = Swing.objects.get_or_create(
        clip=clip, number=1, defaults={"start_s": 0.0, "end_s": end_s, "created_at": now}
    )
    return swing
