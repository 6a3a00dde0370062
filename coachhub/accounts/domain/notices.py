"""Telling people: a notice on the site at once, and a letter as often as they want one.

Letters go out exactly once: a notice is marked before its letter leaves, and marked back if the mail server is away.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable
from datetime import datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from django.conf import settings
from django.core import signing
from django.core.mail import EmailMessage
from django.db import transaction
from django.db.models import Q, QuerySet
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import translation

from coachhub.accounts.domain.guardians import guardians_of
from coachhub.accounts.enums import MailState, NoticeKind, Rhythm
from coachhub.accounts.models import MailChoice, Notice, User
from coachhub.common.domain.later import after_commit
from coachhub.common.wording import say_whole

log = logging.getLogger(__name__)
SALT = "accounts.unsubscribe"
# After this it is no news any more.
WORTH_A_LETTER = timedelta(days=14)
LATE = timedelta(minutes=2)
BETWEEN = {Rhythm.DAILY: timedelta(hours=23), Rhythm.WEEKLY: timedelta(days=7) - timedelta(hours=1)}
MOST_LINES = 40
# What only calls to mind: together, and in one letter a day.
REMINDERS = (NoticeKind.TASK, NoticeKind.LATE, NoticeKind.STALE)


@transaction.atomic
def tell(
    person: User,
    kind: str,
    *,
    about: UUID | str,
    path: str,
    scope: UUID | None = None,
    words: dict[str, str] | None = None,
    guardian_path: str = "",
    by_mail: bool = True,
    to_guardians: bool = True,
    by: User | None = None,
    now: datetime,
) -> list[Notice]:
    """Tell a person, and whoever reads along with them. The same ``kind`` of the same ``about`` is told once.

    ``path`` leads to what it is about, for guardians ``guardian_path`` (their own page where empty). ``by``: who
    caused it, and needs no news of the own doing. Gives the new notices.
    """
    if kind not in NoticeKind.values:
        raise ValueError(f"kind must be one of {NoticeKind.values}, not {kind!r}")
    told = [(person, path)]
    if to_guardians:
        told += [(one, guardian_path or reverse("guardian:home")) for one in guardians_of(person)]
    made = []
    for who, where in told:
        if who == by:
            continue
        notice, is_new = Notice.objects.get_or_create(
            person=who,
            kind=kind,
            about=str(about)[:80],
            defaults={
                "scope_id": scope,
                "path": where,
                "words": words or {},
                "mail_state": MailState.WAITING if by_mail else MailState.NONE,
                "created_at": now,
            },
        )
        if is_new:
            made.append(notice)
            if by_mail:
                after_commit(_send_soon, notice.pk)
    return made


def _send_soon(notice_id: int) -> None:
    from coachhub.accounts.tasks import mail_notice

    mail_notice.delay(notice_id)


def choice_of(person: User) -> MailChoice:
    """What the person chose, or the usual (not saved)."""
    return MailChoice.objects.filter(person=person).first() or MailChoice(person=person)


def choose_mail(person: User, *, rhythm: str, quiet_from: int, quiet_to: int) -> MailChoice:
    if rhythm not in Rhythm.values:
        raise ValueError(f"rhythm must be one of {Rhythm.values}, not {rhythm!r}")
    for name, hour in (("quiet_from", quiet_from), ("quiet_to", quiet_to)):
        if not 0 <= hour <= 23:
            raise ValueError(f"{name} must be an hour 0 to 23, not {hour!r}")
    fields = {"rhythm": rhythm, "quiet_from": quiet_from, "quiet_to": quiet_to}
    return MailChoice.objects.update_or_create(person=person, defaults=fields)[0]


def is_quiet(choice: MailChoice, now: datetime) -> bool:
    """Whether it is one of the person's quiet hours, in the person's own zone."""
    hour = now.astimezone(ZoneInfo(choice.person.time_zone)).hour
    start, end = choice.quiet_from, choice.quiet_to
    return start <= hour < end if start <= end else hour >= start or hour < end


def mail_at_once(notice_id: int, *, now: datetime) -> bool:
    """The letter about one notice, if its person wants letters at once and it is no quiet hour. Twice is once."""
    notice = Notice.objects.select_related("person").filter(pk=notice_id).first()
    if notice is None or not notice.person.is_active:
        return False
    choice = choice_of(notice.person)
    if choice.rhythm == Rhythm.NEVER:
        Notice.objects.filter(pk=notice_id, mail_state=MailState.WAITING).update(mail_state=MailState.NONE)
        return False
    if choice.rhythm != Rhythm.AT_ONCE or is_quiet(choice, now):
        return False
    if notice.kind in REMINDERS:
        return _mail_reminders(notice.person, now)
    return _mail(notice.person, [notice], now)


def mail_digest(person_id: int, *, now: datetime) -> bool:
    """All that waits in one letter, once in the person's rhythm, whoever calls at the same time."""
    choice = MailChoice.objects.select_related("person").filter(person_id=person_id).first()
    if choice is None or choice.rhythm not in BETWEEN or is_quiet(choice, now):
        return False
    due = Q(digest_at=None) | Q(digest_at__lte=now - BETWEEN[Rhythm(choice.rhythm)])
    before = choice.digest_at
    if not MailChoice.objects.filter(due, pk=choice.pk).update(digest_at=now):
        return False
    waiting = list(_waiting(now).filter(person_id=person_id).order_by("created_at", "pk")[:MOST_LINES])
    if waiting and _mail(choice.person, waiting, now):
        return True
    MailChoice.objects.filter(pk=choice.pk, digest_at=now).update(digest_at=before)
    return False


def _waiting(now: datetime) -> QuerySet[Notice]:
    return Notice.objects.filter(
        mail_state=MailState.WAITING,
        read_at=None,
        created_at__gt=now - WORTH_A_LETTER,
        person__is_active=True,
    )


def _mail_reminders(person: User, now: datetime) -> bool:
    """All that wait, once a day of the person's: whoever has several children gets no more letters than others."""
    with transaction.atomic():
        # Two workers with two reminders of one person must not both find that none has gone out.
        User.objects.select_for_update().get(pk=person.pk)
        reminders = Notice.objects.filter(person=person, kind__in=REMINDERS)
        if reminders.filter(mailed_at__gte=day_begins(person, now)).exists():
            return False
        waiting = _waiting(now).filter(person=person, kind__in=REMINDERS).order_by("created_at", "pk")
        mine = _take(list(waiting[:MOST_LINES]), now)
    return _send(person, mine)


def day_begins(person: User, now: datetime) -> datetime:
    """Midnight in the person's zone."""
    return now.astimezone(ZoneInfo(person.time_zone)).replace(hour=0, minute=0, second=0, microsecond=0)


def _mail(person: User, notices: list[Notice], now: datetime) -> bool:
    return _send(person, _take(notices, now))


@transaction.atomic
def _take(notices: list[Notice], now: datetime) -> list[Notice]:
    """Those that no other worker has taken; from here on they count as sent."""
    ids = [notice.pk for notice in notices]
    free = Notice.objects.select_for_update().filter(pk__in=ids, mail_state=MailState.WAITING)
    mine = set(free.values_list("pk", flat=True))
    Notice.objects.filter(pk__in=mine).update(mail_state=MailState.SENT, mailed_at=now)
    return [notice for notice in notices if notice.pk in mine]


def _send(person: User, mine: list[Notice]) -> bool:
    """False: there is nothing to send, or the mail server is away and it waits on."""
    if not mine:
        return False
    try:
        with translation.override(person.language or settings.LANGUAGE_CODE):
            letter(person, mine).send()
    except OSError:
        rows = Notice.objects.filter(pk__in=[notice.pk for notice in mine])
        rows.update(mail_state=MailState.WAITING, mailed_at=None)
        log.warning("no letter for %s notices: the mail server does not answer", len(mine))
        return False
    return True


def letter(person: User, notices: Iterable[Notice]) -> EmailMessage:
    """Kinds and links only: mail is read on lock screens, and subjects by whoever carries them."""
    listed = [
        (say_whole(NoticeKind(notice.kind).label), settings.SITE_URL + notice.path) for notice in notices
    ]
    stop = settings.SITE_URL + reverse("account:unsubscribe", kwargs={"token": unsubscribe_token(person)})
    words = {"listed": listed, "site_name": settings.SITE_NAME, "stop": stop}
    what = listed[0][0] if len(listed) == 1 else say_whole("News from your camp")
    return EmailMessage(
        subject=f"{settings.SITE_NAME}: {what}",
        body=render_to_string("mail/notices.txt", words),
        to=[person.email],
        # RFC 8058: one click in the mail program, without signing in.
        headers={"List-Unsubscribe": f"<{stop}>", "List-Unsubscribe-Post": "List-Unsubscribe=One-Click"},
    )


def unsubscribe_token(person: User) -> str:
    return signing.dumps(str(person.public_id), salt=SALT)


def person_unsubscribing(token: str) -> User | None:
    try:
        return User.objects.filter(public_id=signing.loads(token, salt=SALT)).first()
    except signing.BadSignature:
        return None


def unsubscribe(person: User) -> None:
    """No letters any more; notices stay on the site."""
    MailChoice.objects.update_or_create(person=person, defaults={"rhythm": Rhythm.NEVER})
    Notice.objects.filter(person=person, mail_state=MailState.WAITING).update(mail_state=MailState.NONE)


def unread(person: User) -> QuerySet[Notice]:
    return Notice.objects.filter(person=person, read_at=None)


def mark_read(person: User, *, now: datetime, path: str = "") -> int:
    """All of them, or those that lead to ``path``."""
    rows = unread(person).filter(path=path) if path else unread(person)
    return rows.update(read_at=now)


def send_waiting(now: datetime) -> int:
    """For the sweep: letters that waited for the end of quiet hours or got lost, and digests that are due."""
    at_once = _waiting(now).filter(
        Q(person__mail_choice=None) | Q(person__mail_choice__rhythm=Rhythm.AT_ONCE), created_at__lt=now - LATE
    )
    sent = sum(mail_at_once(pk, now=now) for pk in at_once.values_list("pk", flat=True)[:200])
    together = _waiting(now).filter(person__mail_choice__rhythm__in=tuple(BETWEEN))
    people = together.order_by().values_list("person_id", flat=True).distinct()[:200]
    return sent + sum(mail_digest(person_id, now=now) for person_id in people)
