from __future__ import annotations

from datetime import timedelta

import pytest
from django.template import Context, Template
from django.test import Client
from django.utils import timezone

from coachhub.web.spans import span_words
from tests import factories
from tests.cast import make_cast

pytestmark = pytest.mark.unit


@pytest.mark.parametrize(
    "seconds, words",
    [
        (20, "less than a minute"),
        (31 * 60 + 59, "31 minutes"),
        (5 * 3600 + 60, "5 hours 1 minute"),
        (23 * 3600 + 3000, "23 hours"),
        (2 * 86400 - 1, "1 day 23 hours"),
        (3 * 86400, "3 days"),
    ],
)
def test_the_two_largest_units_rounded_down(seconds: float, words: str) -> None:
    assert span_words(seconds) == words


def test_distance_from_now_uses_the_same_words() -> None:
    at = timezone.now()
    shown = Template("{{ before|from_now }}; {{ after|from_now }}").render(
        Context({"before": at - timedelta(hours=49), "after": at + timedelta(days=1, hours=22, minutes=30)})
    )
    assert shown == "2 days 1 hour ago; in 1 day 22 hours"


@pytest.mark.django_db
@pytest.mark.parametrize("hours", [46.51, -3.21])
def test_list_and_desk_say_the_same_of_the_promise(client: Client, hours: float) -> None:
    cast = make_cast()
    due_at = timezone.now() + timedelta(hours=hours)
    review = factories.make_review(factories.make_submission(cast.student, cast.cohort), due_at=due_at)
    client.force_login(cast.coach)
    words = "1 day 22 hours left" if hours > 0 else "overdue by 3 hours 12 minutes"
    assert words in client.get("/coach/").content.decode()
    assert words in client.get(f"/coach/desk/{review.public_id}/").content.decode()
