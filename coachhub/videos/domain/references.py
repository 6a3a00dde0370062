"""A coach's library: whole swings and short demonstrations to set beside what students send."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import datetime

from django.db import transaction

from coachhub.accounts.enums import Hand
from coachhub.accounts.models import User
from coachhub.camps.models import Camp
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record
from coachhub.common.rules import can
from coachhub.videos.enums import ClubClass, ReferenceKind, View
from coachhub.videos.models import Reference


@dataclass(frozen=True)
class About:
    """What the owner says of a reference. ``rights``: who is in the picture and who agreed to its use here."""

    title: str
    kind: str
    view: str
    handedness: str
    rights: str
    club_class: str = ""
    note: str = ""
    is_shared: bool = False


@transaction.atomic
def add_reference(camp: Camp, about: About, *, by: User, now: datetime) -> Reference:
    """An entry without a film yet; the film comes by the upload."""
    if not can(by, "videos.add_reference", camp):
        raise RuleBroken("not_a_coach", "Only a coach of this camp can add to its library.")
    reference = Reference(camp=camp, owner=by, created_at=now, **asdict(_checked(about)))
    reference.save()
    record("reference.added", reference, by=by, now=now, scope=camp.public_id, kind=about.kind)
    return reference


@transaction.atomic
def edit_reference(reference: Reference, about: About, *, by: User, now: datetime) -> Reference:
    """Change what is said of it. Kind, view, club and hand are fixed once the film is there: it was measured so."""
    _refuse_unless_owner(reference, by)
    fields = asdict(_checked(about))
    if hasattr(reference, "clip"):
        fields = {name: fields[name] for name in ("title", "note", "rights", "is_shared")}
    for name, value in fields.items():
        setattr(reference, name, value)
    reference.save(update_fields=list(fields))
    record("reference.edited", reference, by=by, now=now, scope=reference.camp.public_id)
    return reference


@transaction.atomic
def share_reference(reference: Reference, *, shared: bool, by: User, now: datetime) -> bool:
    """Let the camp's other coaches use it, or keep it private again. False: it was so already."""
    _refuse_unless_owner(reference, by)
    hit = Reference.objects.filter(pk=reference.pk).exclude(is_shared=shared).update(is_shared=shared)
    if hit:
        verb = "reference.shared" if shared else "reference.kept_private"
        record(verb, reference, by=by, now=now, scope=reference.camp.public_id)
    return bool(hit)


def _checked(about: About) -> About:
    choices: dict[str, list[str]] = {
        "kind": ReferenceKind.values,
        "view": View.values,
        "handedness": Hand.values,
        "club_class": ["", *ClubClass.values],
    }
    for name, allowed in choices.items():
        if getattr(about, name) not in allowed:
            raise ValueError(f"{name} must be one of {allowed}, not {getattr(about, name)!r}")
    if not about.title.strip():
        raise RuleBroken("no_title", "Give it a title by which you find it again.")
    if not about.rights.strip():
        raise RuleBroken("no_rights", "Say who is in the picture and that they agreed to its use here.")
    if about.kind == ReferenceKind.SWING and not about.club_class:
        raise RuleBroken("no_club", "Say which kind of club is swung; numbers of two clubs differ.")
    return about


def _refuse_unless_owner(reference: Reference, by: User) -> None:
    if not can(by, "videos.edit_reference", reference):
        raise RuleBroken("not_yours", "Only the coach who made this reference can change it.")
