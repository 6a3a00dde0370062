"""An idea to change, as coach and student look at it: two pictures, the better idea, and the question to say back."""

from __future__ import annotations

from dataclasses import dataclass

from coachhub.accounts.models import User
from coachhub.feedback.models import Finding, FindingVersion, IdeaChange, Review
from coachhub.swings.models import Swing
from coachhub.videos.models import Clip
from coachhub.web.media.links import media_link


@dataclass(frozen=True)
class Still:
    """A film that stands at one frame."""

    src: str
    poster: str
    label: str
    seconds: str


@dataclass(frozen=True)
class Idea:
    better_idea: str
    look: str
    say_back: str
    stills: tuple[Still, ...]


def idea_of(review: Review, user: User) -> Idea | None:
    related = ("own_swing__clip", "demo_clip__reference")
    change = IdeaChange.objects.filter(review=review).select_related(*related).first()
    if change is None or change.is_empty:
        return None
    stills = []
    if change.own_swing is not None:
        stills.append(still(change.own_swing.clip, change.own_us or 0, "Your swing", user))
    if change.demo_clip is not None:
        reference = change.demo_clip.reference
        stills.append(
            still(change.demo_clip, change.demo_us or 0, reference.title if reference else "", user)
        )
    shown = tuple(one for one in stills if one is not None)
    return Idea(change.better_idea, change.look, change.say_back, shown)


def still(clip: Clip, at_us: int, label: str, user: User) -> Still | None:
    """Media fragments (W3C, 2012) let a browser show one frame without script. None: the film doesn't play here."""
    if not clip.rendition_key:
        return None
    seconds = f"{at_us / 1e6:.3f}"
    return Still(
        src=f"{media_link('clip.rendition', clip, user)}#t={seconds}",
        poster=media_link("clip.poster", clip, user) if clip.poster_key else "",
        label=label,
        seconds=f"{at_us / 1e6:.2f} s",
    )


def chain_stills(finding: Finding | FindingVersion | None, review: Review, user: User) -> dict[str, Still]:
    """The frame of each link that has one, of this submission's swings only."""
    frames = finding.frames if finding is not None else {}
    wanted = {frame["swing"] for frame in frames.values()}
    swings = Swing.objects.filter(public_id__in=wanted, clip__submission=review.submission_id)
    by_id = {str(swing.public_id): swing for swing in swings.select_related("clip")}
    found = {
        part: still(by_id[frame["swing"]].clip, frame["at_us"], "", user)
        for part, frame in frames.items()
        if frame["swing"] in by_id
    }
    return {part: one for part, one in found.items() if one is not None}
