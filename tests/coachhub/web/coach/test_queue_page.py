from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from coachhub.accounts.models import User
from coachhub.feedback.enums import ReviewState
from coachhub.feedback.models import Review
from tests import factories
from tests.cast import Cast, make_cast

pytestmark = [pytest.mark.integration, pytest.mark.django_db]
MOST_QUERIES = 14


@pytest.fixture
def cast() -> Cast:
    return make_cast()


@pytest.fixture
def browser(cast: Cast) -> Client:
    client = Client()
    client.force_login(cast.coach)
    return client


@pytest.fixture
def second_coach(cast: Cast) -> User:
    user = factories.make_user("Bo Second")
    factories.join(user, cast.cohort, "coach")
    return user


def waiting(cast: Cast, due: float = 10, student: User | None = None, **fields: Any) -> Review:
    submission = factories.make_submission(student or cast.student, cast.cohort)
    factories.make_swing(
        factories.make_clip(submission), signs={"early_release": "likely", "sway": "possible"}
    )
    due_at = timezone.now() + timedelta(hours=due)
    return factories.make_review(submission, **{"due_at": due_at, **fields})


def page(browser: Client, **query: str) -> Any:
    response = browser.get(reverse("coach:queue", query=query))
    assert response.status_code == 200
    return response


def names(response: Any) -> list[str]:
    return [row.review.submission.student.name for row in response.context["rows"]]


def test_the_page_says_what_waits_why_and_how_long(cast: Cast, browser: Client) -> None:
    waiting(cast, 30.02, is_first=True)
    waiting(cast, -2.02, student=cast.cohort_mate, has_pain=True, private_note="Bo: see the grip")
    response = page(browser)
    assert names(response) == ["Cora Mate", "Sam Student"]
    text = response.content.decode()
    for words in (
        "<strong>2</strong> left",
        "overdue by 2 hours",
        "1 day 6 hours left",
        "pain noted",
        "first of this student",
        "iron, face-on, 1 swing, filmed",
        "Ball: starts left, flies straight.",
        "Measured, likely: early release.",
        "Bo: see the grip",
    ):
        assert words in text, words
    assert "sway" not in text


def test_nothing_waits_is_said(browser: Client) -> None:
    assert "Nothing waits for you" in page(browser).content.decode()
    assert "Nothing here fits" in page(browser, club="driver").content.decode()


def test_query_count_does_not_grow_with_the_rows(cast: Cast, browser: Client, second_coach: User) -> None:
    counts, held = [], {"state": ReviewState.CLAIMED, "claimed_by": second_coach}
    for more in (1, 2):
        for number in range(more):
            waiting(cast, number, student=factories.make_student(cast.cohort))
            waiting(cast, number, claimed_at=timezone.now(), **held)
        for query in ({}, {"group": "student"}, {"pile": "others", "reason": "new", "view": "face_on"}):
            with CaptureQueriesContext(connection) as seen:
                page(browser, **query)
            counts.append(len(seen))
    assert counts[:3] == counts[3:]
    assert max(counts) <= MOST_QUERIES


def test_filters_that_make_no_sense_are_left_out(cast: Cast, browser: Client) -> None:
    waiting(cast)
    odd = {"cohort": "x", "pile": "heap", "reason": "'", "view": "up", "club": "spoon", "page": "-7"}
    assert names(page(browser, **odd)) == ["Sam Student"]
    foreign = str(cast.other_cohort.public_id)
    assert names(page(browser, cohort=foreign)) == ["Sam Student"]


def test_pages_hold_25_and_links_keep_the_filters(cast: Cast, browser: Client) -> None:
    for number in range(27):
        waiting(cast, number)
    first = page(browser, view="face_on", group="student")
    assert len(first.context["rows"]) == 25
    assert "?view=face_on&amp;group=student&amp;page=2" in first.content.decode()
    assert len(page(browser, view="face_on", page="2").context["rows"]) == 2


def test_taking_leads_to_the_desk_and_a_second_coach_is_told(
    cast: Cast, browser: Client, second_coach: User
) -> None:
    review = waiting(cast)
    response = browser.post(reverse("coach:desk-take", args=[review.public_id]))
    assert response.url == reverse("coach:desk", args=[review.public_id])
    other = Client()
    other.force_login(second_coach)
    told = other.post(reverse("coach:desk-take", args=[review.public_id]), follow=True)
    assert "Ines Coach is reviewing" in told.content.decode()
    listed = page(other, pile="others").content.decode()
    assert "Ines Coach is reviewing it." in listed
    assert names(page(other)) == []


def test_buttons_act_and_come_back_to_the_filtered_list(
    cast: Cast, browser: Client, second_coach: User
) -> None:
    review = waiting(cast)
    back = reverse("coach:queue", query={"club": "iron"})

    def press(name: str, **data: Any) -> str:
        response = browser.post(reverse(f"coach:{name}", args=[review.public_id]), {**data, "back": back})
        assert (response.status_code, response.url) == (302, back)
        review.refresh_from_db()
        return browser.get(back).content.decode()

    assert "Put off until" in press("defer", wait="tomorrow")
    assert review.deferred_until is not None
    assert timezone.localtime(review.deferred_until, cast_zone(cast)).hour == 8
    press("hand-over", to=str(second_coach.public_id), note="You know her grip.")
    assert (review.claimed_by, review.private_note) == (second_coach, "Ines Coach: You know her grip.")
    assert "Choose a coach" in press("hand-over", to="nobody")
    assert "Choose for how long" in press("defer", wait="ever")


def cast_zone(cast: Cast) -> Any:
    from zoneinfo import ZoneInfo

    return ZoneInfo(cast.coach.time_zone)


def test_a_way_back_to_another_site_is_not_taken(cast: Cast, browser: Client) -> None:
    review = waiting(cast)
    for evil in ("https://example.net/", "//example.net/x", "/\\example.net", "javascript:alert(1)"):
        response = browser.post(reverse("coach:release", args=[review.public_id]), {"back": evil})
        assert response.url == reverse("coach:queue")


def test_a_reply_is_read_in_the_thread_or_settled(cast: Cast, browser: Client) -> None:
    review = waiting(
        cast,
        state=ReviewState.PUBLISHED,
        published_at=timezone.now(),
        published_by=cast.coach,
        reply_waiting_since=timezone.now(),
    )
    thread = factories.make_thread(cast.student, cast.cohort)
    assert "reply to read" in page(browser).content.decode()
    to_thread = browser.get(reverse("coach:reply-to", args=[review.public_id]))
    assert to_thread.url == reverse("coach:thread", args=[thread.public_id])
    browser.post(reverse("coach:no-answer-needed", args=[review.public_id]))
    assert names(page(browser)) == []


def test_names_with_markup_are_only_words(cast: Cast, browser: Client) -> None:
    evil = factories.make_student(cast.cohort, "<script>alert(1)</script>")
    waiting(cast, student=evil, private_note="<b>bold</b>")
    text = page(browser).content.decode()
    assert "<script>alert" not in text
    assert "<b>bold" not in text
