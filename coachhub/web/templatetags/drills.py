"""A drill wherever it is shown: its drawing or film, and what a student can say of it. {% load drills %}"""

from __future__ import annotations

import uuid
from typing import Any

from django import template
from django.templatetags.static import static
from django.urls import reverse
from django.utils import timezone

from coachhub.feedback.domain.parked import parked_for
from coachhub.feedback.domain.practice import Source
from coachhub.feedback.enums import PracticeKind
from coachhub.feedback.library.figures import FIGURES
from coachhub.feedback.models import Drill, ParkedPriority, Review
from coachhub.videos.models import Clip

register = template.Library()

# Two taps for the usual numbers; any other number has its own field.
USUAL_BALLS = (20, 40, 60)


@register.simple_tag
def drill_drawing(drill: Drill) -> str:
    """The address of the drawing; empty where there is none."""
    key = drill.figure or drill.key
    return static(f"img/drills/{key}.svg") if key in FIGURES else ""


@register.simple_tag
def drill_clip(drill: Drill) -> Clip | None:
    """The coach's film of it, if it is ready to play."""
    clip = getattr(drill.film, "clip", None) if drill.film else None
    return clip if clip is not None and clip.rendition_key else None


@register.inclusion_tag("shared/drill_doors.html", takes_context=True)
def drill_doors(context: template.Context, source: Source, log: bool = True) -> dict[str, Any]:
    """What the student of this answer or lesson can say of its drill; for everybody else nothing."""
    request = context["request"]
    is_answer = isinstance(source, Review)
    place = source.submission if isinstance(source, Review) else source.message.thread
    if place.student_id != request.user.pk:
        return {"shown": False}
    key = source.public_id if isinstance(source, Review) else source.message.public_id
    # Not sliced in the query: a talk fetches the practice of all its lessons at once.
    everything = list(source.practice.all())
    said = everything[:10]
    return {
        "shown": True,
        "address": reverse("student:practise" if is_answer else "student:practise-lesson", args=[key]),
        "id": f"{'answer' if is_answer else 'lesson'}-{key.hex[:8]}",
        "token": uuid.uuid4(),
        "back": request.get_full_path(),
        "stopped": any(one.kind == PracticeKind.HURTS for one in everything),
        "said": said if log else [],
        "unclear": any(one.kind == PracticeKind.UNCLEAR for one in everything),
        "usual_balls": USUAL_BALLS,
        "today": timezone.localdate(),
        "csrf_token": context.get("csrf_token"),
    }


@register.simple_tag
def kept_for_later(review: Review) -> list[ParkedPriority]:
    return list(parked_for(review.submission.student_id, review.submission.camp_id))
