from __future__ import annotations

import pytest
from django.conf import settings
from django.utils import timezone

from coachhub.feedback.domain.library import load_library
from coachhub.progress.demo import people, scenario, shelf, story
from coachhub.videos.models import Clip, Reference

pytestmark = [pytest.mark.django_db, pytest.mark.unit]


def test_the_coachs_shelf_is_filled_once() -> None:
    now = timezone.now()
    told = scenario.read()
    load_library(now=now)
    camp = people.make_people(told, today=now.astimezone(told.zone).date(), now=now)
    stage = story.stage_of(told, camp, people.calendar_of(told, camp))
    clips = settings.BASE_DIR / "fixtures" / "clips"
    assert (shelf.fill(stage, clips, now=now), shelf.fill(stage, clips, now=now)) == (2, 0)
    assert sorted(Reference.objects.values_list("view", "is_shared")) == [("dtl", True), ("face_on", True)]
    assert Clip.objects.exclude(reference=None).count() == 2
    # Another coach of the camp can set them beside a swing.
    assert Reference.objects.usable_by(stage.people["rafa"]).count() == 2
