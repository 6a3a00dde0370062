"""What may stand beside a swing: the session's other swings, earlier ones of the student, the coach's references."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from uuid import UUID

from django.db.models import Q, QuerySet

from coachhub.accounts.models import Intake, User
from coachhub.feedback.models import Review
from coachhub.swings.models import Readout, Swing
from coachhub.videos.enums import ClipState, SubmissionState
from coachhub.videos.models import Clip, Reference

SHOWN_STATES = (ClipState.PLAYABLE, ClipState.USABLE)
MOST_EARLIER_CLIPS = 24
SESSION, EARLIER, LIBRARY = "session", "earlier", "library"


@dataclass(frozen=True)
class Choice:
    """``swing`` is None for a film without a measured swing: then the whole clip is meant."""

    kind: str
    clip: Clip
    swing: Swing | None

    @property
    def id(self) -> UUID:
        return self.swing.public_id if self.swing else self.clip.public_id

    @property
    def words(self) -> str:
        """How it is called wherever it stands."""
        number = f", swing {self.swing.number}" if self.swing and len(self.clip.swings.all()) > 1 else ""
        what = f"{self.clip.get_view_display()}{number}"
        if isinstance(self.clip.home, Reference):
            club = self.clip.home.get_club_class_display() if self.clip.home.club_class else "no club"
            return f"{self.clip.home.title} ({club}, {what})"
        day = f"{self.clip.home.range_day:%-d %B}"
        if self.kind == SESSION:
            return f"Clip {self.clip.number}, {what}"
        return f"{day}, {self.clip.home.get_club_class_display()}, {what}"


def choices_beside(review: Review, by: User) -> list[Choice]:
    """All of them, the session's own first, then the latest earlier ones, then the library by title."""
    return [
        *_choices(SESSION, _clips(by).filter(submission=review.submission).order_by("number")),
        *_choices(EARLIER, _earlier(review, by)),
        *_choices(LIBRARY, _library(by).order_by("reference__title", "pk")),
    ]


def find_beside(review: Review, ident: UUID, *, by: User) -> Choice | None:
    """The choice of that id, if the coach may set it beside a swing of this review."""
    mine = Q(submission__student=review.submission.student_id, submission__camp=review.submission.camp_id)
    usable = _clips(by).filter(mine | Q(reference__in=Reference.objects.usable_by(by)))
    clip = usable.filter(Q(public_id=ident) | Q(swings__public_id=ident)).distinct().first()
    if clip is None:
        return None
    swing = next((one for one in clip.swings.all() if one.public_id == ident), None)
    return Choice(_kind(review, clip), clip, swing)


def _kind(review: Review, clip: Clip) -> str:
    if clip.reference_id is not None:
        return LIBRARY
    return SESSION if clip.submission_id == review.submission_id else EARLIER


def _choices(kind: str, clips: QuerySet[Clip]) -> Iterator[Choice]:
    for clip in clips:
        swings: list[Swing | None] = [*clip.swings.all()]
        for swing in swings or [None]:
            yield Choice(kind, clip, swing)


def _clips(by: User) -> QuerySet[Clip]:
    seen = Clip.objects.visible_to(by).filter(state__in=SHOWN_STATES)
    return seen.select_related("submission", "reference").prefetch_related("swings")


def _earlier(review: Review, by: User) -> QuerySet[Clip]:
    own = review.submission
    earlier = (
        _clips(by)
        .filter(submission__student=own.student_id, submission__camp=own.camp_id)
        .exclude(submission=own)
        .exclude(submission__state__in=(SubmissionState.OPEN, SubmissionState.WITHDRAWN))
        .filter(submission__range_day__lte=own.range_day)
    )
    return earlier.order_by("-submission__range_day", "-submission__sent_at", "number")[:MOST_EARLIER_CLIPS]


def _library(by: User) -> QuerySet[Clip]:
    return _clips(by).filter(reference__in=Reference.objects.usable_by(by))


def hand_in(clip: Clip) -> str:
    """The declared hand of whoever swings there; it wins over the detected one."""
    if isinstance(clip.home, Reference):
        return clip.home.handedness
    declared = (
        Intake.objects.filter(user_id=clip.home.student_id).values_list("handedness", flat=True).first()
    )
    return declared or "right"


def current_readout(swing: Swing | None) -> Readout | None:
    if swing is None:
        return None
    found = swing.readouts.filter(is_current=True)
    return found.select_related("run", "swing__clip__submission", "swing__clip__reference").first()
