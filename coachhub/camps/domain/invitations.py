"""Ways into one cohort: a signed link whose row says whether it still holds."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from uuid import UUID

from django.conf import settings
from django.core.signing import BadSignature, Signer
from django.db import transaction
from django.db.models import F
from django.urls import reverse

from coachhub.accounts.domain import limits
from coachhub.accounts.enums import AttemptKind
from coachhub.accounts.models import User
from coachhub.camps.domain.members import enrol
from coachhub.camps.enums import CampState, MemberState, Role
from coachhub.camps.models import Cohort, Invitation, InvitationMail, Membership
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record
from coachhub.common.domain.later import after_commit
from coachhub.common.models import Event

MOST_USES = 200
_signer = partial(Signer, salt="camps.invitation", sep=".")


@dataclass(frozen=True)
class Invited:
    email: str = ""
    name: str = ""


@transaction.atomic
def invite(
    cohort: Cohort,
    *,
    role: str = Role.STUDENT,
    email: str = "",
    name: str = "",
    most_uses: int = 1,
    by: User,
    now: datetime,
) -> Invitation:
    """Open a way into the cohort. With an address it is for that person alone and goes out by mail."""
    if role not in (Role.STUDENT, Role.COACH):
        raise ValueError(f"role must be student or coach, not {role!r}")
    if not 1 <= most_uses <= MOST_USES:
        raise ValueError(f"most_uses must be 1 to {MOST_USES}, not {most_uses!r}")
    if cohort.camp.state != CampState.OPEN:
        raise RuleBroken("camp_closed", "This camp is closed. Open it again before you invite anybody.")
    limits.spend(AttemptKind.INVITE, person=by, now=now)
    invitation = Invitation.objects.create(
        cohort=cohort,
        role=role,
        email=email.strip().lower(),
        name=" ".join(name.split()),
        most_uses=1 if email else most_uses,
        made_by=by,
        expires_at=now + settings.INVITATION_LIFETIME,
        created_at=now,
    )
    record("invitation.made", invitation, by=by, now=now, scope=cohort.camp.public_id, role=role)
    if invitation.email:
        _queue_mail(invitation, now=now)
    return invitation


def _queue_mail(invitation: Invitation, *, now: datetime) -> None:
    from coachhub.camps.tasks import send_invitation

    mail = InvitationMail.objects.create(invitation=invitation, queued_at=now)
    after_commit(send_invitation.delay, mail.pk)


@transaction.atomic
def invite_all(cohort: Cohort, people: Iterable[Invited], *, by: User, now: datetime) -> list[Invitation]:
    """Invite each address once: who is in the camp, or has an open invitation to this cohort, is passed over."""
    passed = addresses_at_hand(cohort, now=now)
    made = []
    for person in people:
        address = person.email.strip().lower()
        if address not in passed:
            passed.add(address)
            made.append(invite(cohort, email=address, name=person.name, by=by, now=now))
    return made


def addresses_at_hand(cohort: Cohort, *, now: datetime) -> set[str]:
    """Addresses that need no invitation to this cohort: members of the camp, and who holds an open one."""
    members = Membership.objects.filter(camp=cohort.camp).exclude(state=MemberState.LEFT)
    holding = Invitation.objects.filter(
        cohort=cohort, withdrawn_at=None, expires_at__gt=now, uses__lt=F("most_uses")
    ).exclude(email="")
    return {*members.values_list("user__email", flat=True), *holding.values_list("email", flat=True)}


@transaction.atomic
def withdraw(invitation: Invitation, *, by: User, now: datetime) -> Invitation:
    """Close the way. Who has come in by it stays in."""
    if Invitation.objects.filter(pk=invitation.pk, withdrawn_at=None).update(withdrawn_at=now):
        record("invitation.withdrawn", invitation, by=by, now=now, scope=invitation.cohort.camp.public_id)
    invitation.refresh_from_db(fields=["withdrawn_at"])
    return invitation


def token_of(invitation: Invitation) -> str:
    return str(_signer().sign(invitation.public_id.hex))


def link_of(invitation: Invitation) -> str:
    return settings.SITE_URL + reverse("account:join", kwargs={"token": token_of(invitation)})


def find(token: str, *, now: datetime) -> Invitation:
    """The invitation that a link stands for, if it still holds; else RuleBroken says kindly why not."""
    invitation = _by_token(token)
    if invitation is None:
        raise RuleBroken(
            "unknown",
            "This link isn't complete or was changed on its way. Open it again from the letter, or copy all of it.",
        )
    _refuse_closed(invitation, now=now)
    return invitation


def _by_token(token: str) -> Invitation | None:
    try:
        public_id = UUID(_signer().unsign(token))
    except (BadSignature, ValueError):
        return None
    rows = Invitation.objects.select_related("cohort__camp", "made_by")
    return rows.filter(public_id=public_id).first()


def _refuse_closed(invitation: Invitation, *, now: datetime) -> None:
    ask = "Ask the camp's organiser for a new one."
    if invitation.cohort.camp.state != CampState.OPEN:
        raise RuleBroken("camp_closed", "This camp is closed and takes nobody in any more.")
    if invitation.withdrawn_at is not None:
        raise RuleBroken("withdrawn", f"This invitation was taken back. {ask}")
    if invitation.uses >= invitation.most_uses:
        raise RuleBroken(
            "used_up", f"This invitation has been used already. Joined before? Sign in. If not: {ask}"
        )
    if invitation.expires_at <= now:
        raise RuleBroken("expired", f"This invitation has run out. {ask}")


@transaction.atomic
def accept(token: str, user: User, *, now: datetime) -> Membership:
    """Come into the cohort. A member who opens the link again uses nothing up."""
    if (member := standing(token, user)) is not None:
        return member
    invitation = find(token, now=now)
    if invitation.email and invitation.email != user.email:
        raise RuleBroken(
            "other_person",
            "This invitation is for somebody else: it was sent to another e-mail address than the one you signed in "
            "with. Sign out and open it again, or ask the organiser to invite this address.",
        )
    _use(invitation, now=now)
    record("invitation.used", invitation, by=user, now=now, scope=invitation.cohort.camp.public_id)
    return enrol(user, invitation.cohort, invitation.role, by=invitation.made_by, now=now)


def standing(token: str, user: User) -> Membership | None:
    """What the person already is by such an invitation, however old the link is."""
    invitation = _by_token(token)
    if invitation is None:
        return None
    held = Membership.objects.present(user).filter(cohort=invitation.cohort, role=invitation.role)
    return held.first()


def _use(invitation: Invitation, *, now: datetime) -> None:
    """One conditional update: the last place is taken once, also by two people at the same time."""
    open_ones = Invitation.objects.filter(
        pk=invitation.pk, uses__lt=F("most_uses"), withdrawn_at=None, expires_at__gt=now
    )
    if not open_ones.update(uses=F("uses") + 1):
        invitation.refresh_from_db()
        _refuse_closed(invitation, now=now)


def came_by(invitations: Iterable[Invitation]) -> dict[UUID, list[User]]:
    """Who came in by each of these, in the order of coming."""
    came: dict[UUID, list[User]] = {}
    used = Event.objects.filter(verb="invitation.used", thing_id__in=[each.public_id for each in invitations])
    for event in used.select_related("actor"):
        if event.actor is not None:
            came.setdefault(event.thing_id, []).append(event.actor)
    return came


def hidden_address(email: str) -> str:
    """Enough of an address to recognise one's own: ``m…@example.org``."""
    name, _, host = email.partition("@")
    return f"{name[:1]}…@{host}"
