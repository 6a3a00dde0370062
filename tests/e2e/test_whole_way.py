"""One swing, the whole way: from an invitation over a broken upload to an answer that is heard and answered."""

from __future__ import annotations

import re
import time

import pytest
from playwright.sync_api import Browser, expect

from tests.e2e import whole_way
from tests.stack import Stack

pytestmark = [pytest.mark.e2e, pytest.mark.integration]


def test_from_the_range_to_the_answer_and_back(stack: Stack, browser: Browser) -> None:
    began = time.monotonic()
    site = whole_way.Site.start(stack, browser)
    phone = whole_way.join_and_answer(site)
    where = whole_way.describe_session(phone)

    phone, offsets = whole_way.upload_with_a_cut(phone, whole_way.CLIP, where)
    arrived = time.monotonic()
    assert offsets[0] == 0
    assert len(offsets) >= 3
    # What had arrived before the cut is not sent again.
    assert offsets[2] == offsets[1] > 0
    assert sorted(set(offsets)) == sorted(offsets[:1] + offsets[2:])
    whole_way.send(phone)
    whole_way.wait_until_measured(phone)
    measured = time.monotonic()

    desk = site.signed_in("piet.coach@example.org", whole_way.DESKTOP)
    whole_way.review(desk)
    published = time.monotonic()
    assert published_answers(stack) == {"answers": 1, "published": 1, "state": "answered", "marks": 1}

    heard = whole_way.play_and_reply(phone)
    assert heard["voice_s"] > 2
    assert heard["played_s"] > 0.3
    assert heard["wide"] == 720

    desk.goto("/coach/")
    expect(desk.get_by_role("link", name="Read the reply")).to_be_visible()
    office = site.signed_in("ylva.organiser@example.org", whole_way.DESKTOP)
    office.goto(f"/organiser/{site.seeded['camp']}/")
    expect(office.get_by_text("Kestrel Links").first).to_be_visible()
    office.goto(office.get_by_role("link", name=re.compile("Blue tees")).first.get_attribute("href") or "/")
    expect(office.get_by_text("Odalys Brandvold").first).to_be_visible()
    print(
        f"\nupload resumed at {offsets[2]} of {whole_way.CLIP.stat().st_size} bytes; "
        f"arrived to measured {measured - arrived:.1f} s; coach's work {published - measured:.1f} s; "
        f"voice {heard['voice_s']:.1f} s; all {time.monotonic() - began:.0f} s"
    )


def published_answers(stack: Stack) -> dict[str, object]:
    """Double-clicked, and yet published once."""
    found: dict[str, object] = stack.python(
        """
from coachhub.feedback.models import Mark, Message, Review
from coachhub.videos.models import Submission
from coachhub.common.models import Event
answer = {"answers": Message.objects.filter(kind="feedback").count(),
          "published": Event.objects.filter(verb="review.published").count(),
          "state": Submission.objects.get().state, "marks": Mark.objects.count()}
"""
    )
    return found
