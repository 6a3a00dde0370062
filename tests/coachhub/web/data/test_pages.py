"""What goes and when, told beforehand on three pages; and deleting, which empties the browser too."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from coachhub.accounts.models import User
from coachhub.common.domain.sights import note_sight
from coachhub.videos.domain.retention import drop_old_films, keep_videos, preview
from coachhub.videos.models import Clip
from tests import factories
from tests.cast import Cast, make_cast
from tests.factories import NOW

pytestmark = [pytest.mark.unit, pytest.mark.django_db]
PASSWORD = "three words here"


@pytest.fixture
def cast(db: None) -> Cast:
    return make_cast()


def film(cast: Cast, student: User) -> Clip:
    clip = factories.make_clip(factories.make_submission(student, cast.cohort))
    for name in ("original_key", "rendition_key"):
        key = default_storage.save(f"films/{clip.pk}-{name}", ContentFile(b"pictures"))
        Clip.objects.filter(pk=clip.pk).update(**{name: key})
    clip.refresh_from_db()
    return clip


def page(person: User, address: str) -> str:
    client = Client()
    client.force_login(person)
    answer = client.get(address)
    assert answer.status_code == 200
    return answer.content.decode()


def test_what_the_camps_page_says_is_what_goes(
    cast: Cast, django_capture_on_commit_callbacks: Callable[..., object]
) -> None:
    """The camp ends on 28 June in Tokyo and keeps films for 90 days: they go at 15:00 UTC on 26 September."""
    mine, kept = film(cast, cast.student), film(cast, cast.cohort_mate)
    keep_videos(cast.cohort_mate, cast.camp, by=cast.cohort_mate, now=NOW)
    text = page(cast.organiser, reverse("data:retention", args=[cast.camp.public_id]))
    assert "Sam Student" in text and "26 September 2026" in text
    assert "Cora Mate" in text and "26 September 2027" in text
    due = next(going.at for going in preview() if going.clip == mine)
    with django_capture_on_commit_callbacks(execute=True):
        assert drop_old_films(now=due) == 1
    text = page(cast.organiser, reverse("data:retention", args=[cast.camp.public_id]))
    assert "Sam Student" not in text and "Cora Mate" in text
    assert not default_storage.exists(mine.original_key) and not default_storage.exists(mine.rendition_key)
    assert default_storage.exists(kept.original_key) and default_storage.exists(kept.rendition_key)


def test_another_camps_films_are_not_on_it(cast: Cast) -> None:
    elsewhere = factories.make_cohort(cast.other_camp)
    film(cast, cast.student)
    stranger = factories.make_student(elsewhere, name="Sten Elsewhere")
    factories.make_clip(factories.make_submission(stranger, elsewhere), rendition_key="renditions/elsewhere")
    text = page(cast.organiser, reverse("data:retention", args=[cast.camp.public_id]))
    assert "Sam Student" in text and "Sten Elsewhere" not in text


def _watched(cast: Cast, student: User) -> None:
    clip = film(cast, student)
    for number, person in enumerate((cast.coach, cast.organiser, student)):
        note_sight(clip, by=person, now=NOW + timedelta(hours=number), scope=cast.camp.public_id)


@pytest.mark.parametrize("who", ["organiser", "student", "guardian"])
def test_many_films_ask_the_database_as_often_as_one(cast: Cast, who: str) -> None:
    address = {
        "organiser": reverse("data:retention", args=[cast.camp.public_id]),
        "student": reverse("data:person", args=[cast.student.public_id]),
        "guardian": reverse("guardian:videos", args=[cast.minor.public_id]),
    }[who]
    person = cast.person(who)
    assert isinstance(person, User)
    client, counts = Client(), []
    client.force_login(person)
    for more in (1, 3):
        for _ in range(more):
            for student in (cast.student, cast.minor):
                _watched(cast, student)
        with CaptureQueriesContext(connection) as queries:
            assert client.get(address).status_code == 200
        counts.append(len(queries))
    assert counts[0] == counts[1]
    assert counts[0] <= 20


def signed_in(person: User) -> Client:
    person.set_password(PASSWORD)
    person.save(update_fields=["password"])
    client = Client()
    client.force_login(person)
    return client


def test_who_is_deleted_leaves_nothing_in_the_browser(cast: Cast) -> None:
    """Clear Site Data (W3C working draft): "cache" and "storage" drop what pages and workers kept."""
    client = signed_in(cast.cohort_mate)
    address = reverse("data:erase", args=[cast.cohort_mate.public_id])
    refused = client.post(address, {"sure": "on", "password": "wrong"})
    assert "Clear-Site-Data" not in refused.headers
    answer = client.post(address, {"sure": "on", "password": PASSWORD})
    assert not User.objects.filter(pk=cast.cohort_mate.pk).exists()
    assert answer.headers["Clear-Site-Data"] == '"cache", "storage"'


def test_after_deleting_what_was_sent_no_copy_is_played_from_the_cache(cast: Cast) -> None:
    client = signed_in(cast.student)
    clip = film(cast, cast.student)
    assert clip.submission is not None
    address = reverse("data:erase-sent", args=[clip.submission.public_id])
    answer = client.post(address, {"sure": "on", "password": PASSWORD})
    assert answer.status_code == 302 and not Clip.objects.filter(pk=clip.pk).exists()
    assert answer.headers["Clear-Site-Data"] == '"cache"'
