from __future__ import annotations

from datetime import timedelta

import pytest
from django.contrib.auth.models import AnonymousUser
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.test import Client
from django.urls import reverse

from coachhub.common.domain.sights import note_sight, sights_of
from coachhub.common.models import Sight
from coachhub.videos.models import Clip
from coachhub.web.media.links import media_link
from tests import factories
from tests.cast import Cast, make_cast
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db]


@pytest.fixture
def cast(db: None) -> Cast:
    return make_cast()


@pytest.fixture
def clip(cast: Cast) -> Clip:
    key = default_storage.save("renditions/sight.mp4", ContentFile(b"pictures"))
    return factories.make_clip(factories.make_submission(cast.minor, cast.cohort), rendition_key=key)


def test_once_for_each_person_thing_and_hour(cast: Cast, clip: Clip) -> None:
    for minutes in (0, 5, 29, 31, 95):
        note_sight(clip, by=cast.coach, now=NOW + timedelta(minutes=minutes), scope=cast.camp.public_id)
    note_sight(clip, by=cast.organiser, now=NOW)
    note_sight(clip, by=AnonymousUser(), now=NOW)
    seen = sights_of("videos.clip", [clip.public_id])
    assert [row.person for row in seen] == [cast.coach, cast.coach, cast.organiser, cast.coach]
    assert Sight.objects.filter(scope_id=cast.camp.public_id).count() == 3


def test_the_guardian_reads_who_watched_and_when_it_goes(cast: Cast, clip: Clip) -> None:
    film = media_link("clip.rendition", clip, cast.coach)
    client = Client()
    client.force_login(cast.coach)
    # A player asks in pieces, again and again.
    for piece in ("bytes=0-3", "bytes=4-7", "bytes=0-7"):
        assert client.get(film, headers={"Range": piece}).status_code == 206
    client.get(media_link("clip.poster", clip, cast.coach))
    assert Sight.objects.count() == 1
    client.force_login(cast.guardian)
    page = client.get(reverse("guardian:videos", args=[cast.minor.public_id]))
    video = page.context["videos"][0]
    assert [(one.who, one.role) for one in video.watched] == [("Ines Coach", "coach")]
    # The camp ends on 28 June 2026 in Tokyo, and keeps files for 90 days.
    assert video.goes_at.date().isoformat() == "2026-09-26"
    assert "Ines Coach" in page.content.decode()
    assert "26 September 2026" in page.content.decode()


def test_a_refused_try_is_no_sight(cast: Cast, clip: Clip) -> None:
    client = Client()
    client.force_login(cast.outsider)
    assert client.get(media_link("clip.rendition", clip, cast.outsider)).status_code == 404  # type: ignore[arg-type]
    assert not Sight.objects.exists()
