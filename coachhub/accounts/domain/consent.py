"""Who agreed to what. Each word is a row; what holds now is worked out from the rows, here and nowhere else.

An adult agrees for themselves. For a minor a guardian does: one guardian's yes is enough, any guardian's no ends it (so
a disagreement is a no), and the minor's own no counts as well.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.db import transaction
from django.db.models import QuerySet

from coachhub.accounts.domain.minors import is_minor, under_guard
from coachhub.accounts.enums import ConsentVoice, GuardianState, Purpose
from coachhub.accounts.models import Consent, Guardianship, StandingConsent, User
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.domain.events import record

# Without both there is nothing that a camp could do with a video.
NEEDED_TO_SEND = (Purpose.ANALYSIS, Purpose.FEEDBACK)


def allows(person: User, purpose: str) -> bool:
    """Whether the consent stands now."""
    return StandingConsent.objects.filter(person_id=person.pk, purpose=Purpose(purpose)).exists()


def allowing(purpose: str) -> QuerySet[StandingConsent, int]:
    """Ids of everybody who agreed, for queries: ``filter(student_id__in=allowing(Purpose.FEEDBACK))``."""
    return StandingConsent.objects.people(purpose)


def standing(person: User) -> frozenset[str]:
    return frozenset(StandingConsent.objects.filter(person_id=person.pk).values_list("purpose", flat=True))


def refuse_unless_allowed(person: User, *purposes: str) -> None:
    """The one door for whatever needs a consent."""
    missing = [purpose for purpose in purposes if not allows(person, purpose)]
    if not missing:
        return
    if under_guard(person):
        raise RuleBroken("no_consent", "A guardian has to agree first, and nobody has agreed to this now.")
    raise RuleBroken(
        "no_consent",
        "This needs an agreement that isn't given now. It can be given on the page “What I agree to”.",
    )


@transaction.atomic
def give(person: User, purposes: Iterable[str], *, by: User, now: datetime) -> frozenset[str]:
    """Agree; returns what holds afterwards. Agreeing twice is written once."""
    return _say(person, purposes, True, by=by, now=now)


@transaction.atomic
def withdraw(person: User, purposes: Iterable[str], *, by: User, now: datetime) -> frozenset[str]:
    """Take it back, at any time and without a reason."""
    return _say(person, purposes, False, by=by, now=now)


def _say(person: User, purposes: Iterable[str], is_given: bool, *, by: User, now: datetime) -> frozenset[str]:
    voice = voice_of(by, person, now=now)
    # The row of the person holds still what is worked out below.
    User.objects.select_for_update().get(pk=person.pk)
    if is_given and voice == ConsentVoice.SELF and is_minor(person, now=now):
        raise RuleBroken("minor", "Under 18, a guardian agrees for you. You can say no yourself at any time.")
    for purpose in purposes:
        last = Consent.objects.filter(person=person, purpose=Purpose(purpose), by=by, voice=voice).first()
        if last is not None and last.is_given is is_given:
            continue
        row = Consent.objects.create(
            person=person, purpose=Purpose(purpose), is_given=is_given, by=by, voice=voice, created_at=now
        )
        record(
            "consent.given" if is_given else "consent.withdrawn", row, by=by, now=now, purpose=str(purpose)
        )
    return recount(person, now=now)


def voice_of(by: User, person: User, *, now: datetime) -> ConsentVoice:
    """As whom ``by`` speaks about the person's consents; who is neither is refused."""
    if by.pk == person.pk:
        return ConsentVoice.SELF
    active = Guardianship.objects.filter(child=person, guardian=by, state=GuardianState.ACTIVE)
    if is_minor(person, now=now) and active.exists():
        return ConsentVoice.GUARDIAN
    raise RuleBroken("not_a_guardian", "Only a guardian of a minor can decide this for somebody else.")


def words_of(person: User, purpose: str, *, now: datetime) -> dict[int, Consent]:
    """The last word of each whose word counts now, by the speaker's id."""
    rows = Consent.objects.filter(person=person, purpose=purpose).select_related("by")
    if is_minor(person, now=now):
        guardians = Guardianship.objects.filter(child=person, state=GuardianState.ACTIVE)
        speakers = {*guardians.values_list("guardian_id", flat=True), person.pk}
        rows = rows.filter(by__in=speakers)
    else:
        rows = rows.filter(by=person, voice=ConsentVoice.SELF)
    last: dict[int, Consent] = {}
    for row in rows:
        if row.by_id is not None:
            last.setdefault(row.by_id, row)
    return last


def _holds(person: User, purpose: str, *, minor: bool, now: datetime) -> bool:
    words = words_of(person, purpose, now=now)
    if any(not row.is_given for row in words.values()):
        return False
    if minor:
        return any(row.voice == ConsentVoice.GUARDIAN for row in words.values())
    return bool(words)


@transaction.atomic
def recount(person: User, *, now: datetime) -> frozenset[str]:
    """Work out anew what holds, and let follow what follows. Called after every word and every change of guardians."""
    before, minor = standing(person), is_minor(person, now=now)
    after = frozenset(str(purpose) for purpose in Purpose if _holds(person, purpose, minor=minor, now=now))
    StandingConsent.objects.filter(person=person, purpose__in=before - after).delete()
    for purpose in sorted(after - before):
        StandingConsent.objects.create(person=person, purpose=purpose, since=now)
    for purpose in sorted(before - after):
        consent_withdrawn(person, purpose, now=now)
    if after - before:
        _consent_given(person, now=now)
    return after


def consent_withdrawn(person: User, purpose: str, *, now: datetime) -> None:
    """What no longer may go on, stops."""
    from coachhub.feedback.domain.consents import purpose_ended  # upward: next stage

    purpose_ended(person, purpose, now=now)


def _consent_given(person: User, *, now: datetime) -> None:
    from coachhub.feedback.domain.consents import purposes_began  # upward: next stage

    purposes_began(person, now=now)
