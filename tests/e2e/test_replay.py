"""The student looks at the answer: the picture halts at the coach's marks, and nothing can be edited."""

from __future__ import annotations

import re
import uuid

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from coachhub.feedback.domain.marks import save_marks
from coachhub.feedback.domain.reviews import publish_review, save_draft
from tests.e2e.clips import READ_NUMBER
from tests.e2e.conftest import PHONE, OpenPage
from tests.e2e.desk_scene import DeskScene, make_desk_scene

pytestmark = [pytest.mark.e2e, pytest.mark.django_db(transaction=True)]


def publish(scene: DeskScene) -> None:
    now, swing = timezone.now(), str(scene.second.public_id)
    mark = {"uid": str(uuid.uuid4()), "swing": swing, "kind": "arrow", "points": [[0.2, 0.2], [0.6, 0.5]]}
    mark |= {"from_us": 300_000, "to_us": 500_000, "label": "", "note": "the hands lead"}
    moment = {"uid": str(uuid.uuid4()), "swing": swing, "at_us": 700_000, "note": "hips have turned"}
    review = save_draft(scene.review, {"priority": "turf first"}, revision=0, by=scene.coach, now=now)
    review = save_marks(review, [mark], [moment], revision=1, by=scene.coach, now=now)
    publish_review(review, by=scene.coach, now=now)


def test_playing_halts_at_the_drawing_and_at_the_moment(open_page: OpenPage) -> None:
    scene = make_desk_scene()
    publish(scene)
    page = open_page(scene.student, f"/my/answers/{scene.review.public_id}/", size=PHONE)
    now = page.locator("[data-part=now]")
    expect(now).to_have_text(re.compile("of 60"))
    shown = f"({READ_NUMBER})(document.querySelector('[data-player]'))"
    for frame, marks in ((18, 1), (42, 0)):
        page.get_by_role("button", name="Play", exact=True).click()
        expect(now).to_have_text(re.compile(rf"^Frame {frame + 1} of"))
        expect(page.get_by_role("button", name="Play", exact=True)).to_be_visible()
        assert page.evaluate(shown) == frame
        expect(page.locator(".mark")).to_have_count(marks)
    page.get_by_role("button", name="the hands lead").click()
    expect(now).to_have_text(re.compile("^Frame 19 of"))
    expect(page.locator(".mark")).to_have_count(1)
    assert page.locator("[data-tool]").count() == 0
    assert page.get_by_role("button", name="hips have turned").count() == 1
