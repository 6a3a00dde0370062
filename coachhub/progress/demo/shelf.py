"""Two reference swings of the demo's coach, to be set beside what the students send; a worker measures them."""

from __future__ import annotations

import hashlib
from datetime import datetime
from pathlib import Path

from django.db import transaction

from coachhub.progress.demo.story import Stage
from coachhub.videos.domain.clips import add_reference_clip
from coachhub.videos.domain.references import About, add_reference
from coachhub.videos.enums import ClubClass, ReferenceKind, View
from coachhub.videos.models import Reference

COACH = "tamsin"
RIGHTS = "Nobody: the swing is drawn by a computer."
SWINGS = {
    "fo_none": About(
        title="A steady swing from the front",
        kind=ReferenceKind.SWING,
        view=View.FACE_ON,
        handedness="right",
        rights=RIGHTS,
        club_class=ClubClass.IRON,
        note="Where the hands are when the lead arm is level on the way down",
        is_shared=True,
    ),
    "dtl_none": About(
        title="A steady swing from behind",
        kind=ReferenceKind.SWING,
        view=View.DOWN_THE_LINE,
        handedness="right",
        rights=RIGHTS,
        club_class=ClubClass.IRON,
        note="How the hips keep their distance from the ball",
        is_shared=True,
    ),
}


def fill(stage: Stage, clips: Path, *, now: datetime) -> int:
    """How many were put there; what is there already stays."""
    coach, made = stage.people[COACH], 0
    there = set(Reference.objects.filter(camp=stage.camp, owner=coach).values_list("title", flat=True))
    for name, about in SWINGS.items():
        if about.title in there:
            continue
        path = clips / f"{name}.mp4"
        film = path.read_bytes()
        with transaction.atomic():
            reference = add_reference(stage.camp, about, by=coach, now=now)
            add_reference_clip(
                reference,
                source_path=path,
                size=len(film),
                sha256=hashlib.sha256(film).hexdigest(),
                file_name=path.name,
                by=coach,
                now=now,
            )
        made += 1
    return made
