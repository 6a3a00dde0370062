"""What only a coach's eye sees, as plain choices with a frame: each stands for nodes of the map that are so, or not.

Which look speaks for which node is common practice, no study (C).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.db.models import QuerySet

from coachhub.accounts.models import User
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record
from coachhub.feedback.domain.camp_map import map_of
from coachhub.feedback.domain.claims import refuse_unless_coach
from coachhub.feedback.enums import ReviewState
from coachhub.feedback.models import Observation, Review
from coachhub.swings.models import Swing

NODE, NOT_NODE = "node", "not_node"
# What can be set by hand beside the looks: everything of the swing and the set-up, nothing that is asked or felt.
BY_HAND = ("set-up", "backswing", "transition", "downswing", "impact", "finish")


@dataclass(frozen=True)
class Choice:
    value: str
    label: str
    so: tuple[str, ...] = ()
    not_so: tuple[str, ...] = ()


@dataclass(frozen=True)
class Look:
    """``letter``, then the number of the choice: two keys on the stage."""

    key: str
    letter: str
    label: str
    choices: tuple[Choice, ...]


_BALL = ("set_ball_far_back", "set_ball_far_fwd", "set_ball_close", "set_ball_far")
_PRESSURE = ("bs_no_pressure_trail", "tr_no_pressure_lead", "im_hang_back")
LOOKS = (
    Look(
        "wrist_top",
        "w",
        "Lead wrist at the top",
        (
            Choice("cupped", "cupped", ("bs_cupped_top",)),
            Choice("flat", "flat", (), ("bs_cupped_top",)),
            Choice("bowed", "bowed", (), ("bs_cupped_top",)),
        ),
    ),
    Look(
        "wrist_impact",
        "i",
        "Lead wrist at impact",
        (
            Choice("cupped", "cupped", ("im_scoop",)),
            Choice("flat", "flat", (), ("im_scoop",)),
            Choice("bowed", "bowed", (), ("im_scoop",)),
        ),
    ),
    Look(
        "trail_hand",
        "t",
        "Trail hand",
        (
            Choice("under", "under the handle", (), ("set_grip_weak",)),
            Choice("beside", "beside it"),
            Choice("on_top", "on top of it", ("set_grip_weak",)),
        ),
    ),
    Look(
        "face_top",
        "f",
        "Face at the top",
        (
            Choice("open", "open", ("bs_cupped_top",)),
            Choice("square", "square", (), ("bs_cupped_top",)),
            Choice("closed", "closed", (), ("bs_cupped_top",)),
        ),
    ),
    Look(
        "grip",
        "g",
        "Lead-hand grip",
        (
            Choice("weak", "weak", ("set_grip_weak",)),
            Choice("neutral", "neutral", (), ("set_grip_weak", "set_grip_palm")),
            Choice("strong", "strong", (), ("set_grip_weak",)),
            Choice("palm", "in the palm", ("set_grip_palm",)),
        ),
    ),
    Look(
        "ball",
        "b",
        "Ball position",
        (
            Choice("fits", "fits the club", (), _BALL),
            Choice("back", "too far back", ("set_ball_far_back",)),
            Choice("forward", "too far forward", ("set_ball_far_fwd",)),
            Choice("close", "too close", ("set_ball_close",)),
            Choice("far", "too far away", ("set_ball_far",)),
        ),
    ),
    Look(
        "pressure",
        "p",
        "Pressure under the feet",
        (
            Choice("moves", "to the trail foot and back", (), _PRESSURE),
            Choice("not_trail", "never to the trail foot", ("bs_no_pressure_trail",)),
            Choice("late", "late to the lead foot", ("tr_no_pressure_lead",)),
            Choice("stays", "on the trail foot at impact", ("im_hang_back",)),
        ),
    ),
)
_LOOKS = {look.key: look for look in LOOKS}
_CHOICES = {(look.key, choice.value): choice for look in LOOKS for choice in look.choices}


@transaction.atomic
def observe(
    review: Review,
    look: str,
    value: str,
    *,
    by: User,
    swing: Swing | None = None,
    at_us: int | None = None,
    now: datetime,
) -> Observation:
    """Write down what the eye saw. The same look again takes the place of the coach's earlier word on it."""
    _refuse_unless_open(review, by)
    _refuse_unknown(review, look, value)
    if swing is not None and swing.clip.submission_id != review.submission_id:
        raise ValueError(f"swing must be of the review's submission, not {swing.public_id}")
    inside = swing is not None and at_us is not None and swing.start_s <= at_us / 1e6 <= swing.end_s
    mine = Observation.objects.filter(review=review, by=by)
    _replaced(mine, look, value).delete()
    seen = Observation.objects.create(
        review=review,
        swing=swing,
        at_us=at_us if inside else None,
        look=look,
        value=value,
        by=by,
        created_at=now,
    )
    scope = review.submission.camp.public_id
    record("eye.observed", review, by=by, now=now, scope=scope, look=look, value=value)
    return seen


def _replaced(mine: QuerySet[Observation], look: str, value: str) -> QuerySet[Observation]:
    """One word for a look; of a node either that it is so, or that it is not."""
    if look in (NODE, NOT_NODE):
        return mine.filter(look__in=(NODE, NOT_NODE), value=value)
    return mine.filter(look=look)


@transaction.atomic
def take_back(observation: Observation, *, by: User, now: datetime) -> None:
    _refuse_unless_open(observation.review, by)
    if observation.by_id != by.pk:
        raise RuleBroken("not_yours", "Only the coach who saw it can take it back.")
    scope = observation.review.submission.camp.public_id
    record("eye.taken_back", observation.review, by=by, now=now, scope=scope, look=observation.look)
    observation.delete()


def _refuse_unless_open(review: Review, by: User) -> None:
    refuse_unless_coach(review, by)
    if review.state in (ReviewState.PUBLISHED, ReviewState.DROPPED):
        raise RuleBroken("closed", "This one is closed; what was seen stays as it was.")


def _refuse_unknown(review: Review, look: str, value: str) -> None:
    if look in (NODE, NOT_NODE):
        node = map_of(review.submission.camp).found.nodes.get(value)
        known = node is not None and node.kind in BY_HAND
    else:
        known = (look, value) in _CHOICES
    if not known:
        raise RuleBroken("look", "Choose what you saw from the list.")


def so_and_not_so(observations: Iterable[Observation]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Nodes that were seen, and nodes that were seen not to be so; who saw it wins over who did not."""
    so: dict[str, None] = {}
    not_so: dict[str, None] = {}
    for seen in observations:
        choice = _choice(seen)
        so |= dict.fromkeys(choice.so)
        not_so |= dict.fromkeys(choice.not_so)
    return tuple(so), tuple(key for key in not_so if key not in so)


def _choice(seen: Observation) -> Choice:
    if seen.look == NODE:
        return Choice(NODE, "", (seen.value,))
    if seen.look == NOT_NODE:
        return Choice(NOT_NODE, "", (), (seen.value,))
    return _CHOICES.get((seen.look, seen.value), Choice(seen.value, seen.value))


def words_of(seen: Observation, labels: dict[str, str]) -> str:
    """``labels``: of the map's nodes."""
    if seen.look == NODE:
        return labels.get(seen.value, seen.value)
    if seen.look == NOT_NODE:
        return f"not: {labels.get(seen.value, seen.value)}"
    look = _LOOKS.get(seen.look)
    return f"{look.label if look else seen.look}: {_choice(seen).label}"
