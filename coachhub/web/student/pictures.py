"""What a student sees of a measured swing: pictures of its events and, with the answer, what the coach confirmed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from coachhub.accounts.models import User
from coachhub.feedback.models import Review
from coachhub.swings.enums import SignKey, Verdict
from coachhub.swings.models import SignJudgement
from coachhub.videos.models import Clip, Submission
from coachhub.web.player import clips_to_show, readout_of
from coachhub.web.stills import EventSheet, Still, event_sheet_of
from coachhub.web.words import plain

LIMITS = (
    "One phone does not see pressure under the feet, the club face, the bend of the wrists, the low point, the angle "
    "of attack or the curve of the ball. The lines are measured by a program that was checked on rendered clips; how "
    "accurate it is on real footage is not validated. Your coach looks at the film itself."
)


@dataclass(frozen=True)
class ConfirmedSign:
    label: str
    frames: tuple[Still, ...]


@dataclass(frozen=True)
class SwingPictures:
    """One swing; ``shows_numbers``: its sheet with times and numbers may be opened."""

    label: str
    sheet: EventSheet
    shows_numbers: bool
    confirmed: tuple[ConfirmedSign, ...]
    limits: str = LIMITS


def pictures_of(submission: Submission, user: User) -> list[SwingPictures]:
    """Before the answer: pictures alone, since numbers come with the coach's words."""
    return _pictures(clips_to_show(submission, user), shows_numbers=False, confirmed={})


def pictures_of_answer(review: Review, user: User) -> list[SwingPictures]:
    """With the answer, as it was measured then; numbers and confirmed signs where the camp shows them."""
    clips = clips_to_show(review.submission, user, as_of=review.published_at)
    if not review.submission.camp.students_see_trends:
        return _pictures(clips, shows_numbers=False, confirmed={})
    confirmed = _confirmed(clips, review.published_at)
    return _pictures(clips, shows_numbers=True, confirmed=confirmed)


def _confirmed(clips: list[Clip], until: datetime | None) -> dict[int, list[str]]:
    """Swing to the signs that a coach had agreed with."""
    found = SignJudgement.objects.filter(swing__clip__in=clips, verdict=Verdict.AGREE)
    if until is not None:
        found = found.filter(created_at__lte=until)
    signs: dict[int, list[str]] = {}
    for swing, sign in found.order_by("sign").values_list("swing", "sign").distinct():
        signs.setdefault(swing, []).append(sign)
    return signs


def _pictures(
    clips: Iterable[Clip], *, shows_numbers: bool, confirmed: dict[int, list[str]]
) -> list[SwingPictures]:
    found = []
    for clip in clips:
        swings = list(clip.swings.all())
        for swing in swings:
            name = f"clip {clip.number}, {clip.get_view_display()}"
            name += f", swing {swing.number}" if len(swings) > 1 else ""
            readout = readout_of(swing)
            sheet = event_sheet_of(readout, name) if readout else None
            if sheet is not None:
                signs = tuple(_sign(key, sheet) for key in confirmed.get(swing.pk, []))
                found.append(SwingPictures(name.capitalize(), sheet, shows_numbers, signs))
    return found


def _sign(key: str, sheet: EventSheet) -> ConfirmedSign:
    evidence = sheet.readout.data.get("signs", {}).get(key, {}).get("evidence") or []
    events = [event for term in evidence if term.get("value") is not None for event in term.get("at") or ()]
    label = str(SignKey(key).label) if key in SignKey.values else plain(key)
    return ConfirmedSign(label, sheet.at(events))
