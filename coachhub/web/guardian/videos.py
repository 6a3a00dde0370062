"""Every video of a child: playable, with when it goes and who looked at it."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from coachhub.accounts.models import User
from coachhub.camps.enums import Role
from coachhub.camps.models import Camp, Membership
from coachhub.common.domain.sights import sights_of
from coachhub.common.models import Sight
from coachhub.videos.domain.retention import knowing_what_is_kept, original_goes_at
from coachhub.videos.models import Clip
from coachhub.web.guardian.access import child_for, guardian_page
from coachhub.web.student.labels import submission_label
from coachhub.web.who import person_of


@dataclass(frozen=True)
class Watched:
    who: str
    role: str
    at: datetime


@dataclass(frozen=True)
class Video:
    clip: Clip
    label: str
    goes_at: datetime | None
    watched: tuple[Watched, ...]


@require_safe
@guardian_page
def videos(request: HttpRequest, public_id: UUID) -> HttpResponse:
    found = child_for(request, public_id)
    clips = Clip.objects.visible_to(person_of(request)).filter(submission__student=found)
    told = knowing_what_is_kept(clips.select_related("submission__camp"))
    rows = list(told.order_by("-created_at", "-pk"))
    shown = videos_of(rows, found)
    context = {"child": found, "videos": shown, "now": timezone.now()}
    return render(request, "guardian/videos.html", context)


def videos_of(clips: list[Clip], child: User) -> list[Video]:
    sights: dict[UUID, list[Sight]] = defaultdict(list)
    for sight in sights_of("videos.clip", [clip.public_id for clip in clips]):
        sights[sight.thing_id].append(sight)
    roles, found = _Roles({clip.camp.pk for clip in clips}, child), []
    for clip in clips:
        assert clip.submission is not None
        watched = tuple(_watched(sight, roles.of(sight, clip.camp)) for sight in sights[clip.public_id])
        is_gone = clip.original_deleted_at is not None and not clip.rendition_key
        goes_at = None if is_gone else original_goes_at(clip)
        found.append(Video(clip, submission_label(clip.submission), goes_at, watched))
    return found


def _watched(sight: Sight, role: str) -> Watched:
    return Watched(sight.person.name if sight.person else _("somebody whose account is gone"), role, sight.at)


class _Roles:
    """As what people looked at a child's videos, asked once for all of them."""

    def __init__(self, camps: set[int], child: User) -> None:
        self.child = child
        self.held: dict[tuple[int, int], dict[str, None]] = defaultdict(dict)
        rows = Membership.objects.filter(camp__in=camps).exclude(role=Role.STUDENT).order_by("pk")
        for camp_id, user_id, role in rows.values_list("camp_id", "user_id", "role"):
            self.held[camp_id, user_id][role] = None

    def of(self, sight: Sight, camp: Camp) -> str:
        if sight.person_id == self.child.pk:
            return _("your child")
        if sight.person_id is None:
            return ""
        held = self.held.get((camp.pk, sight.person_id), {})
        return ", ".join(str(Role(role).label) for role in held) or _("guardian")
