from __future__ import annotations

from django.db.models import TextChoices
from django.utils.translation import gettext_lazy as _


class Role(TextChoices):
    """What a person is in one camp. Guardians get their own role when their accounts exist."""

    STUDENT = "student", "student"
    COACH = "coach", "coach"
    ORGANISER = "organiser", "organiser"


class MemberState(TextChoices):
    ACTIVE = "active", "taking part"
    PAUSED = "paused", "paused"
    LEFT = "left", "has left"


MEMBER_MOVES: dict[str, frozenset[str]] = {
    MemberState.ACTIVE: frozenset({MemberState.PAUSED, MemberState.LEFT}),
    MemberState.PAUSED: frozenset({MemberState.ACTIVE, MemberState.LEFT}),
    MemberState.LEFT: frozenset({MemberState.ACTIVE}),
}


class CampState(TextChoices):
    OPEN = "open", "open"
    CLOSED = "closed", "closed"


class ConcernState(TextChoices):
    REPORTED = "reported", _("reported")
    TAKEN = "taken", _("being looked into")
    ANSWERED = "answered", _("answered")


CONCERN_MOVES: dict[str, frozenset[str]] = {
    ConcernState.REPORTED: frozenset({ConcernState.TAKEN, ConcernState.ANSWERED}),
    ConcernState.TAKEN: frozenset({ConcernState.ANSWERED}),
    ConcernState.ANSWERED: frozenset(),
}
