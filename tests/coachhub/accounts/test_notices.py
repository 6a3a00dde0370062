from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse

from coachhub.accounts.domain.notices import (
    choose_mail,
    is_quiet,
    letter,
    mail_at_once,
    mail_digest,
    mark_read,
    send_waiting,
    tell,
    unread,
    unsubscribe_token,
)
from coachhub.accounts.enums import NoticeKind, Rhythm
from coachhub.accounts.models import MailChoice, Notice, User
from tests import factories
from tests.cast import make_cast
from tests.factories import make_user

pytestmark = [pytest.mark.integration, pytest.mark.django_db]
# Ten in the morning in Tokyo, where the people of the factories live.
MORNING = datetime(2026, 6, 10, 1, 0, tzinfo=UTC)
NIGHT = datetime(2026, 6, 10, 14, 30, tzinfo=UTC)
HOUR = timedelta(hours=1)


def told(person: User, about: str = "one", kind: str = NoticeKind.ANSWER, now: datetime = MORNING) -> Notice:
    return tell(person, kind, about=about, path="/my/", words={"camp": "Heron Lake"}, now=now)[0]


def test_the_same_thing_is_told_once() -> None:
    person = make_user()
    told(person)
    assert tell(person, NoticeKind.ANSWER, about="one", path="/my/", now=MORNING) == []
    told(person, "two"), told(person, kind=NoticeKind.MESSAGE)
    assert unread(person).count() == 3


def test_a_letter_goes_out_once_however_often_it_is_asked_for() -> None:
    notice = told(make_user())
    assert [mail_at_once(notice.pk, now=MORNING) for _ in range(3)] == [True, False, False]
    assert send_waiting(MORNING + HOUR) == 0
    assert len(mail.outbox) == 1


def test_a_mail_server_that_is_away_costs_time_only(monkeypatch: pytest.MonkeyPatch) -> None:
    notice = told(make_user())
    with monkeypatch.context() as away:
        away.setattr("django.core.mail.EmailMessage.send", lambda self: (_ for _ in ()).throw(OSError()))
        assert not mail_at_once(notice.pk, now=MORNING)
    assert send_waiting(MORNING + HOUR) == 1 and len(mail.outbox) == 1


def test_in_the_quiet_hours_a_letter_waits_for_the_morning() -> None:
    notice = told(make_user(), now=NIGHT)
    assert not mail_at_once(notice.pk, now=NIGHT)
    assert send_waiting(NIGHT + HOUR) == 0
    assert send_waiting(NIGHT + 9 * HOUR) == 1


@pytest.mark.parametrize(
    ("start", "end", "hours"),
    [(21, 7, {21, 23, 0, 6}), (1, 5, {1, 4}), (8, 8, set())],
)
def test_quiet_hours_may_go_over_midnight(start: int, end: int, hours: set[int]) -> None:
    choice = MailChoice(person=make_user(), quiet_from=start, quiet_to=end)
    # Tokyo is nine hours ahead of UTC.
    quiet = {
        hour for hour in range(24) if is_quiet(choice, datetime(2026, 6, 10, (hour - 9) % 24, tzinfo=UTC))
    }
    assert hours <= quiet and len(quiet) == (end - start) % 24


def test_a_daily_letter_holds_all_of_the_day_and_comes_once_a_day() -> None:
    person = make_user()
    choose_mail(person, rhythm=Rhythm.DAILY, quiet_from=0, quiet_to=0)
    for number in range(3):
        notice = told(person, str(number))
        assert not mail_at_once(notice.pk, now=MORNING)
    assert send_waiting(MORNING + HOUR) == 1
    assert str(mail.outbox[0].body).count("/my/") == 3
    told(person, "later", now=MORNING + 2 * HOUR)
    assert send_waiting(MORNING + 4 * HOUR) == 0
    assert send_waiting(MORNING + 25 * HOUR) == 1
    assert len(mail.outbox) == 2


def test_what_only_calls_to_mind_comes_in_one_letter_a_day_of_the_persons_zone() -> None:
    person = make_user()
    due, late = told(person, "due", NoticeKind.TASK), told(person, "late", NoticeKind.LATE)
    assert [mail_at_once(each.pk, now=MORNING) for each in (due, late)] == [True, False]
    assert str(mail.outbox[0].body).count("/my/") == 2
    later = told(person, "old answers", NoticeKind.STALE, now=MORNING + HOUR)
    assert not mail_at_once(later.pk, now=MORNING + HOUR)
    # News is no reminder.
    assert mail_at_once(told(person, "answer", now=MORNING + HOUR).pk, now=MORNING + HOUR)
    # 7:30 of the next day in Tokyo, while it is still the same day at UTC.
    assert send_waiting(MORNING + timedelta(hours=21, minutes=30)) == 1
    assert "look over your answers" in str(mail.outbox[-1].body) and len(mail.outbox) == 3


def test_a_reminder_that_could_not_be_sent_is_none(monkeypatch: pytest.MonkeyPatch) -> None:
    notice = told(make_user(), kind=NoticeKind.TASK)
    with monkeypatch.context() as away:
        away.setattr("django.core.mail.EmailMessage.send", lambda self: (_ for _ in ()).throw(OSError()))
        assert not mail_at_once(notice.pk, now=MORNING)
    assert mail_at_once(notice.pk, now=MORNING + HOUR) and len(mail.outbox) == 1


def test_a_weekly_letter_comes_once_a_week_and_nothing_read_stands_in_it() -> None:
    person = make_user()
    choose_mail(person, rhythm=Rhythm.WEEKLY, quiet_from=0, quiet_to=0)
    told(person, "first")
    assert mail_digest(person.pk, now=MORNING + HOUR)
    told(person, "second", now=MORNING + 2 * HOUR)
    assert not mail_digest(person.pk, now=MORNING + timedelta(days=5))
    mark_read(person, now=MORNING + timedelta(days=6))
    assert not mail_digest(person.pk, now=MORNING + timedelta(days=8))
    assert len(mail.outbox) == 1


def test_two_workers_at_once_send_one_digest() -> None:
    person = make_user()
    choose_mail(person, rhythm=Rhythm.DAILY, quiet_from=0, quiet_to=0)
    told(person)
    # The other worker came first and claimed the day; its letter is on the way.
    MailChoice.objects.filter(person=person).update(digest_at=MORNING)
    assert not mail_digest(person.pk, now=MORNING + timedelta(minutes=1))
    assert mail.outbox == []


def test_who_wants_none_gets_none_and_keeps_the_notice() -> None:
    person = make_user()
    choose_mail(person, rhythm=Rhythm.NEVER, quiet_from=0, quiet_to=0)
    notice = told(person)
    assert not mail_at_once(notice.pk, now=MORNING) and send_waiting(MORNING + HOUR) == 0
    assert unread(person).count() == 1 and mail.outbox == []


def test_a_file_that_a_minor_asked_for_is_no_news_for_guardians() -> None:
    cast = make_cast()
    tell(cast.minor, NoticeKind.READY, about="x", path="/my/", to_guardians=False, now=MORNING)
    assert list(Notice.objects.values_list("person", flat=True)) == [cast.minor.pk]


def test_whoever_reads_along_with_a_minor_is_told_too() -> None:
    cast = make_cast()
    tell(cast.minor, NoticeKind.ANSWER, about="x", path="/my/a/", guardian_path="/guardian/a/", now=MORNING)
    assert dict(Notice.objects.values_list("person", "path")) == {
        cast.minor.pk: "/my/a/",
        cast.guardian.pk: "/guardian/a/",
    }


PRIVATE = ("Sam Student", "sam@example.org", "Heron Lake", "7-iron", "my left thumb hurts")


@pytest.mark.parametrize("kind", NoticeKind.values)
def test_no_subject_and_no_letter_says_anything_of_anybody(kind: str) -> None:
    person = make_user(PRIVATE[0], email=PRIVATE[1])
    words = {"camp": PRIVATE[2], "club": PRIVATE[3], "text": PRIVATE[4]}
    (notice,) = tell(person, kind, about="x", path="/my/", words=words, now=MORNING)
    made = letter(person, [notice])
    for said in (made.subject, str(made.body)):
        assert not [word for word in PRIVATE if word.lower() in said.lower()]
    assert "\n" not in made.subject and len(made.subject) < 78


def test_a_letter_can_be_refused_with_one_click() -> None:
    """RFC 8058, section 3.1 and 3.2: both headers; the POST works without cookies, and without asking back."""
    person = make_user()
    made = letter(person, [told(person)])
    found = re.fullmatch(r"<(https?://[^>]+)>", made.extra_headers["List-Unsubscribe"])
    assert found is not None
    assert made.extra_headers["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"
    path = re.sub(r"https?://[^/]+", "", found[1])
    client = Client(enforce_csrf_checks=True)
    # Only looking, as programs do that check a mail's links, changes nothing.
    assert client.get(path).status_code == 200
    assert not MailChoice.objects.filter(person=person).exists()
    answer = client.post(path, "List-Unsubscribe=One-Click", content_type="application/x-www-form-urlencoded")
    assert answer.status_code == 200
    assert MailChoice.objects.get(person=person).rhythm == Rhythm.NEVER
    assert not mail_at_once(Notice.objects.get().pk, now=MORNING)
    bad = reverse("account:unsubscribe", kwargs={"token": unsubscribe_token(person) + "x"})
    assert client.post(bad).status_code == 404


@pytest.fixture
def signed_in() -> tuple[Client, User]:
    person, client = make_user(), Client()
    client.force_login(person)
    return client, person


def test_the_page_shows_what_is_new_once(signed_in: tuple[Client, User]) -> None:
    client, person = signed_in
    told(person)
    assert "1<span" in client.get(reverse("account:me")).content.decode()
    page = client.get(reverse("account:notices")).content.decode()
    assert "Your coach has answered" in page and "Heron Lake" in page and ">new<" in page
    assert ">new<" not in client.get(reverse("account:notices")).content.decode()
    notice = Notice.objects.get()
    follow = client.get(reverse("account:notice", kwargs={"public_id": notice.public_id}))
    assert follow.headers["Location"] == "/my/"
    other = Client()
    other.force_login(factories.make_user())
    assert other.get(reverse("account:notice", kwargs={"public_id": notice.public_id})).status_code == 404


def test_the_rhythm_is_chosen_on_the_page(signed_in: tuple[Client, User]) -> None:
    client, person = signed_in
    chosen: dict[str, Any] = {"rhythm": "weekly", "quiet_from": 20, "quiet_to": 8}
    client.post(reverse("account:mail"), chosen)
    choice = MailChoice.objects.get(person=person)
    assert (choice.rhythm, choice.quiet_from, choice.quiet_to) == ("weekly", 20, 8)
    client.post(reverse("account:mail"), chosen | {"quiet_to": 31})
    choice.refresh_from_db()
    assert choice.quiet_to == 8
