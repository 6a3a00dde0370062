"""Guardians of a minor: named by e-mail, at most two, with a signed link that ends. They read what the child reads."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.core import signing
from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import IntegrityError, transaction
from django.db.models import QuerySet

from coachhub.accounts.domain.minors import is_minor, under_guard
from coachhub.accounts.enums import GUARDIAN_MOVES, GuardianState
from coachhub.accounts.models import Guardianship, User
from coachhub.common.domain.errors import RuleBroken, Stale
from coachhub.common.domain.events import record
from coachhub.common.domain.later import after_commit

__all__ = ["children_of", "guardians_of", "is_minor"]

MOST = 2
MOST_LETTERS = 5
MOST_A_DAY = 6
LASTS = timedelta(days=14)
SALT = "accounts.guardian"
OPEN = (GuardianState.INVITED, GuardianState.ACTIVE)
OVER = "This link is over. Ask for a new letter."


def children_of(user: User) -> QuerySet[User]:
    """Minors whom the person answers for, and grown-ups who share on."""
    return User.objects.filter(pk__in=Guardianship.objects.read_along(user))


def guardians_of(person: User) -> QuerySet[User]:
    """Who reads along with the person now."""
    rows = Guardianship.objects.standing().filter(child_id=person.pk)
    return User.objects.filter(pk__in=rows.values("guardian_id"), is_active=True)


def answers_for(user: User, person: User) -> bool:
    """An active guardian of a minor."""
    return Guardianship.objects.answering(user).filter(child_id=person.pk).exists()


def has_guardian(person: User) -> bool:
    return guardians_of(person).exists()


def refuse_unless_read_along(person: User) -> None:
    """Nobody writes to a minor without somebody grown up who reads it too."""
    if under_guard(person) and not has_guardian(person):
        raise RuleBroken(
            "no_guardian",
            "This student is under 18 and no guardian reads along now, so nothing can be sent to them.",
        )


@transaction.atomic
def name_guardian(child: User, email: str, *, by: User, now: datetime) -> Guardianship:
    """Send the letter. Naming the same address twice is once."""
    address = _address(child, email)
    # The row of the child holds the count still.
    User.objects.select_for_update().get(pk=child.pk)
    if not is_minor(child, now=now):
        raise RuleBroken("grown_up", "Guardians are for people under 18.")
    held = Guardianship.objects.filter(child=child, state__in=OPEN)
    if (same := held.filter(email=address).first()) is not None:
        return same
    if held.count() >= MOST:
        raise RuleBroken(
            "two", f"There can be {MOST} guardians. Withdraw an invitation to name somebody else."
        )
    if Guardianship.objects.filter(child=child, created_at__gt=now - timedelta(days=1)).count() >= MOST_A_DAY:
        raise RuleBroken("too_often", "Enough letters for today. Check the address, and try again tomorrow.")
    guardianship = Guardianship.objects.create(
        child=child, email=address, invited_by=by, expires_at=now + LASTS, created_at=now
    )
    record("guardian.named", guardianship, by=by, now=now)
    _send(guardianship)
    return guardianship


@transaction.atomic
def send_again(guardianship: Guardianship, *, by: User, now: datetime) -> Guardianship:
    """Another letter; the links of the earlier ones no longer hold."""
    if guardianship.letter >= MOST_LETTERS:
        raise RuleBroken("letters", f"{MOST_LETTERS} letters went out. Check the address, and name it anew.")
    hit = Guardianship.objects.filter(
        pk=guardianship.pk, state=GuardianState.INVITED, letter=guardianship.letter
    ).update(letter=guardianship.letter + 1, mailed_at=None, expires_at=now + LASTS)
    if not hit:
        raise Stale()
    guardianship.refresh_from_db()
    record("guardian.written_again", guardianship, by=by, now=now)
    _send(guardianship)
    return guardianship


@transaction.atomic
def withdraw_invitation(guardianship: Guardianship, *, by: User, now: datetime) -> Guardianship:
    _move(guardianship, GuardianState.WITHDRAWN, ended_at=now)
    record("guardian.invitation_withdrawn", guardianship, by=by, now=now)
    return guardianship


def token_of(guardianship: Guardianship) -> str:
    return signing.dumps([str(guardianship.public_id), guardianship.letter], salt=SALT)


def find(token: str, *, now: datetime) -> Guardianship:
    """The open invitation behind a link."""
    try:
        public_id, letter = signing.loads(token, salt=SALT)
    except (signing.BadSignature, ValueError) as error:
        raise RuleBroken("unknown", "This link isn't whole. Open it once more from the letter.") from error
    row = Guardianship.objects.filter(public_id=public_id, letter=letter).select_related("child").first()
    if row is None or row.state != GuardianState.INVITED or row.expires_at <= now:
        raise RuleBroken("over", OVER)
    return row


@transaction.atomic
def accept(token: str, person: User, *, now: datetime) -> Guardianship:
    """The person of the letter takes it on. Whoever works in a camp of the child can't: two adults must read along."""
    row = find(token, now=now)
    if person.pk == row.child_id:
        raise RuleBroken("yourself", "A guardian is somebody else: a parent, or who has custody.")
    if is_minor(person, now=now):
        raise RuleBroken("minor", "A guardian must be 18 or older.")
    _refuse_staff(row.child, person)
    if not is_minor(row.child, now=now):
        raise RuleBroken("over", OVER)
    try:
        with transaction.atomic():
            _move(row, GuardianState.ACTIVE, guardian=person, accepted_at=now)
    except IntegrityError as error:
        raise RuleBroken("twice", "You are a guardian of this student already.") from error
    record("guardian.accepted", row, by=person, now=now)
    return row


@transaction.atomic
def end(guardianship: Guardianship, *, by: User, now: datetime) -> Guardianship:
    """A guardian steps back, an organiser ends it, or a grown-up shares no more. What only they agreed to ends too."""
    from coachhub.accounts.domain.consent import recount

    _move(guardianship, GuardianState.ENDED, ended_at=now)
    record("guardian.ended", guardianship, by=by, now=now)
    recount(guardianship.child, now=now)
    return guardianship


@transaction.atomic
def share_on(guardianship: Guardianship, *, by: User, now: datetime) -> Guardianship:
    """A grown-up lets who was the guardian go on reading; it ends with one tap."""
    if by.pk != guardianship.child_id:
        raise RuleBroken("not_yours", "Only the person whose swings these are can decide that.")
    _move(guardianship, GuardianState.SHARED, ended_at=None)
    record("guardian.shares_on", guardianship, by=by, now=now)
    return guardianship


def _move(guardianship: Guardianship, to: str, **fields: object) -> None:
    sources = [state for state, moves in GUARDIAN_MOVES.items() if to in moves]
    if not Guardianship.objects.filter(pk=guardianship.pk, state__in=sources).update(state=to, **fields):
        raise Stale()
    guardianship.refresh_from_db()


def _address(child: User, email: str) -> str:
    address = email.strip().lower()
    try:
        validate_email(address)
    except ValidationError as error:
        raise RuleBroken("address", "This is no e-mail address. Check it.") from error
    if address == child.email:
        raise RuleBroken("yourself", "That is your own address. Give your parent's or guardian's.")
    return address


def _refuse_staff(child: User, person: User) -> None:
    from coachhub.camps.domain.members import works_beside  # upward: who is in a camp

    if works_beside(person, child):
        raise RuleBroken(
            "is_staff",
            "You coach or organise a camp of this student. Somebody else must be the guardian here, so that there "
            "are always two adults who read along.",
        )


def _send(guardianship: Guardianship) -> None:
    from coachhub.accounts.tasks import send_guardian_letter

    after_commit(send_guardian_letter.delay, guardianship.pk)
