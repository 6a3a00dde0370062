from __future__ import annotations

import re
from datetime import UTC, datetime

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from coachhub.accounts.models import StandingConsent, User
from coachhub.camps.enums import Role
from coachhub.camps.models import Membership
from coachhub.feedback.domain.adherence import WEEK
from tests import factories
from tests.cast import Cast, make_cast
from tests.coachhub.web.progress.scene import SWAY, found, range_day

pytestmark = [pytest.mark.unit, pytest.mark.django_db]

NOW = datetime(2026, 6, 26, 3, tzinfo=UTC)
MOST_QUERIES = 40


@pytest.fixture
def cast(db: None, monkeypatch: pytest.MonkeyPatch) -> Cast:
    monkeypatch.setattr(timezone, "now", lambda: NOW)
    return make_cast()


def page_of(client: Client, reader: User, cast: Cast, query: str = "") -> str:
    client.force_login(reader)
    response = client.get(reverse("progress:cohort", args=[cast.cohort.public_id]) + query)
    assert response.status_code == 200
    return response.content.decode()


def part(html: str, name: str) -> str:
    """The section under a heading."""
    return html.split(f'<section aria-labelledby="{name}">', 1)[1].split('<section aria-labelledby="', 1)[0]


def days(
    cast: Cast, student: User, means: list[float], *, swings: int = 3, words: str = "Stay over it"
) -> None:
    """Range days with the same thing asked for on each."""
    for number, mean in enumerate(means):
        values = [mean + 0.5 * place for place in range(swings)]
        review = range_day(
            student,
            cast.cohort,
            cast.coach,
            number,
            {SWAY: values},
            signs={"sway": "likely"},
            confirms=("sway",),
            priority=words,
        )
        found(review, cast.coach, mechanism="")


def test_stuck_is_who_is_on_one_thing_without_a_change_that_can_be_told(cast: Cast, client: Client) -> None:
    still, moved, few = (factories.make_student(cast.cohort, name) for name in ("Stella", "Moana", "Felix"))
    days(cast, still, [20, 20, 20])
    days(cast, moved, [20, 20, 60])
    days(cast, few, [20, 20, 60], swings=2)
    stuck = part(page_of(client, cast.coach, cast), "stuck")
    sure, untold = stuck.split("As long, but")
    assert ("Stella" in sure, "Moana" in stuck, "Felix" in sure, "Felix" in untold) == (
        True,
        False,
        False,
        True,
    )
    # The definition stands on the page, in the numbers that the code goes by.
    assert "over 3 range days or more" in sure
    assert "at least 3 swings each" in sure


def test_everybody_stands_by_name_and_nobody_by_size(cast: Cast, client: Client) -> None:
    for name, mean in (("Zora", 5.0), ("Bo", 60.0), ("Lin", 30.0)):
        days(cast, factories.make_student(cast.cohort, name), [mean, mean + 1])
    html = page_of(client, cast.coach, cast)
    shown = re.findall(r'<h3 id="one-\d+"><a [^>]*>([^<]*)<', part(html, "each"))
    assert shown == ["Bo", "Lin", "Zora"]
    unmeasured = part(html, "each").split("Not measured yet: ", 1)[1].split("</p>")[0]
    assert re.findall(r">([^<]+)</a>", unmeasured) == ["Cora Mate", "Mika Minor", "Sam Student"]
    rows = re.findall(r'<tr><th scope="row">([^<]*)<', part(html, "each"))
    assert rows == ["Bo", "Cora Mate", "Lin", "Mika Minor", "Sam Student", "Zora"]
    assert "rank" not in part(html, "each")


def test_small_plots_share_their_scales(cast: Cast, client: Client) -> None:
    for name, mean in (("Zora", 5.0), ("Bo", 60.0)):
        days(cast, factories.make_student(cast.cohort, name), [mean, mean + 1])
    plots = re.findall(r'<svg class="plot small".*?</svg>', page_of(client, cast.coach, cast), re.DOTALL)
    axes = {tuple(re.findall(r'text-anchor="end">([^<]*)<', plot)) for plot in plots}
    assert len(plots) == 2
    assert len(axes) == 1


def test_who_does_not_agree_is_counted_and_nothing_more(cast: Cast, client: Client) -> None:
    shy = factories.make_student(cast.cohort, "Shirin Shy")
    days(cast, shy, [20, 20, 20])
    assert "Shirin Shy" in page_of(client, cast.coach, cast)
    StandingConsent.objects.filter(person=shy, purpose="feedback").delete()
    html = page_of(client, cast.coach, cast)
    assert "Shirin Shy" not in part(html, "each") + part(html, "stuck") + part(html, "signs")
    assert "1 more take" in html


def test_of_a_colleague_a_coach_sees_the_work_and_not_the_hours(cast: Cast, client: Client) -> None:
    mate = factories.make_user("Colin Colleague")
    factories.join(mate, cast.cohort, Role.COACH)
    range_day(cast.student, cast.cohort, mate, 0, {SWAY: [20.0]})

    def hours(reader: User) -> bool:
        row = part(page_of(client, reader, cast), "load").split("Colin Colleague", 1)[1].split("</tr>")[0]
        assert re.findall(r">(\d+)<", row) == ["0", "0", "1", "0"]
        return " h<" in row

    assert [hours(reader) for reader in (mate, cast.coach, cast.organiser)] == [True, False, True]


def test_gone_quiet_is_said_with_its_definition(cast: Cast, client: Client) -> None:
    Membership.objects.update(created_at=NOW - 4 * WEEK)
    quiet = part(page_of(client, cast.coach, cast), "quiet")
    assert re.findall(r'<tr><th scope="row"><a [^>]*>([^<]*)<', quiet) == [
        "Cora Mate",
        "Mika Minor",
        "Sam Student",
    ]
    assert "for 10 days or more" in quiet


def test_an_unknown_number_shows_the_usual_one(cast: Cast, client: Client) -> None:
    days(cast, cast.student, [20, 20])
    usual = part(page_of(client, cast.coach, cast), "each")
    assert '<svg class="plot small"' in usual
    assert part(page_of(client, cast.coach, cast, "?number=x%00"), "each") == usual


def test_an_empty_cohort_has_a_page(cast: Cast, client: Client) -> None:
    assert "No sign has been confirmed" in page_of(client, cast.organiser, cast)


def test_forty_students_ask_as_often_as_two(cast: Cast, client: Client) -> None:
    counts = []
    for students in (2, 38):
        for _ in range(students):
            days(cast, factories.make_student(cast.cohort), [20, 20, 20], swings=1)
        page_of(client, cast.coach, cast)
        with CaptureQueriesContext(connection) as queries:
            page_of(client, cast.coach, cast)
        counts.append(len(queries))
    assert counts[0] == counts[1]
    assert counts[0] <= MOST_QUERIES


def test_coaches_and_organisers_find_the_way(cast: Cast, client: Client) -> None:
    address = reverse("progress:cohort", args=[cast.cohort.public_id])
    ways = {
        cast.coach: reverse("coach:camp-findings", args=[cast.camp.public_id]),
        cast.organiser: reverse("organiser:cohort", args=[cast.cohort.public_id]),
    }
    for reader, way in ways.items():
        client.force_login(reader)
        assert f'href="{address}"' in client.get(way).content.decode()
