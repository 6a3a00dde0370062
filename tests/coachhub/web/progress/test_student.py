from __future__ import annotations

import re
from typing import Any
from xml.etree import ElementTree

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from coachhub.accounts.models import StandingConsent, User
from coachhub.camps.models import Camp, Membership
from coachhub.common.models import Sight
from coachhub.web.words import metric_label
from tests import factories
from tests.cast import Cast, make_cast
from tests.coachhub.web.progress.scene import FIRST, RELEASE, SWAY, range_day

pytestmark = [pytest.mark.unit, pytest.mark.django_db]


@pytest.fixture
def cast(db: None) -> Cast:
    return make_cast()


def page_of(client: Client, reader: User, student: User, query: str = "", status: int = 200) -> str:
    client.force_login(reader)
    place = Membership.objects.get(user=student)
    response = client.get(reverse("progress:student", args=[place.public_id]) + query)
    assert response.status_code == status
    return response.content.decode()


def own_page(client: Client, student: User) -> str:
    client.force_login(student)
    response = client.get(reverse("student:progress"))
    assert response.status_code == 200
    return response.content.decode()


def plots_of(html: str) -> list[ElementTree.Element]:
    found = [
        ElementTree.fromstring(each) for each in re.findall(r'<svg class="plot".*?</svg>', html, re.DOTALL)
    ]
    return [svg for svg in found if svg.get("role") == "img"]


def titles_of(html: str) -> list[str]:
    return [str(svg.findtext("title")) for svg in plots_of(html)]


def two_days(cast: Cast, student: User, **how: Any) -> None:
    """The sway stays where it was, the release changes; the sway is confirmed, the release only measured."""
    signs = {"sway": "likely", "early_release": "likely"}
    days = ([20.0, 21.0, 22.0], [120.0, 121.0, 122.0]), ([20.5, 21.5, 22.5], [90.0, 91.0, 92.0])
    for number, (sway, release) in enumerate(days):
        range_day(
            student,
            cast.cohort,
            cast.coach,
            number,
            {SWAY: sway, RELEASE: release},
            signs=signs,
            confirms=("sway",),
            priority="Stay over the trail foot",
            **how,
        )


def test_a_student_reads_the_confirmed_sign_and_its_numbers_alone(cast: Cast, client: Client) -> None:
    two_days(cast, cast.student)
    html = own_page(client, cast.student)
    assert titles_of(html) == ["Signs over the range days", metric_label(SWAY).capitalize()]
    assert "No change we can measure between 2 June and 8 June" in html
    assert "it changed by" not in html
    assert "early release" not in html.lower()
    assert "Stay over the trail foot" in html


def test_staff_read_what_was_measured_too(cast: Cast, client: Client) -> None:
    two_days(cast, cast.student)
    for reader in (cast.coach, cast.organiser):
        html = page_of(client, reader, cast.student)
        assert len(titles_of(html)) == 3
        assert "Between 2 June and 8 June it changed by" in html
        assert "measured as likely, no coach&#x27;s word yet" in html


def test_a_part_of_the_swing_can_be_chosen_and_nonsense_changes_nothing(cast: Cast, client: Client) -> None:
    two_days(cast, cast.student)
    whole = titles_of(page_of(client, cast.coach, cast.student))
    assert len(titles_of(page_of(client, cast.coach, cast.student, "?numbers=Backswing"))) == 2
    assert titles_of(page_of(client, cast.coach, cast.student, "?numbers=%00&filmed=x")) == whole
    # Not a student's choice, whatever the address says.
    assert len(titles_of(page_of(client, cast.student, cast.student, "?numbers=Backswing"))) == 2


def test_whoever_reads_along_reads_what_the_child_reads(cast: Cast, client: Client) -> None:
    two_days(cast, cast.minor)
    html = page_of(client, cast.guardian, cast.minor)
    assert titles_of(html) == titles_of(own_page(client, cast.minor))
    assert "early release" not in html.lower()
    assert Sight.objects.filter(person=cast.guardian).exists()


def test_an_answer_that_is_not_out_shows_a_student_nothing(cast: Cast, client: Client) -> None:
    two_days(cast, cast.student, is_out=False)
    assert titles_of(own_page(client, cast.student)) == []
    assert len(titles_of(page_of(client, cast.coach, cast.student))) == 3


def test_where_the_camp_keeps_the_numbers_only_staff_see_them(cast: Cast, client: Client) -> None:
    two_days(cast, cast.student)
    Camp.objects.filter(pk=cast.camp.pk).update(students_see_trends=False)
    html = own_page(client, cast.student)
    assert titles_of(html) == ["Signs over the range days"]
    assert "No change we can measure" not in html
    assert len(titles_of(page_of(client, cast.coach, cast.student))) == 3


def test_without_the_agreement_staff_find_nothing(cast: Cast, client: Client) -> None:
    two_days(cast, cast.student)
    StandingConsent.objects.filter(person=cast.student, purpose="feedback").delete()
    page_of(client, cast.coach, cast.student, status=404)
    assert "Stay over the trail foot" in own_page(client, cast.student)


def test_every_plot_has_its_words_and_a_table_behind_it(cast: Cast, client: Client) -> None:
    two_days(cast, cast.student)
    html = page_of(client, cast.coach, cast.student)
    for svg in plots_of(html):
        assert svg.findtext("title")
        assert svg.findtext("desc")
        ids = [each.get("id") for each in svg if each.tag in ("title", "desc")]
        assert str(svg.get("aria-labelledby")).split() == ids
    # For each plot one table right behind it, and for numbers one row a range day.
    assert len(re.findall(r"</figure>\s*<details>", html)) == len(plots_of(html))
    tables = re.findall(r"<caption[^>]*>[^<]* by range day</caption>.*?</table>", html, re.DOTALL)
    assert [table.count("<tr>") for table in tables] == [3, 3, 3]


def test_the_coaching_stands_on_the_time_axis_by_number(cast: Cast, client: Client) -> None:
    two_days(cast, cast.student)
    html = own_page(client, cast.student)
    numbers = [
        [text.text for text in svg.iter("text") if text.get("class") == "coached-number"]
        for svg in plots_of(html)
    ]
    assert numbers == [["1"], ["1"]]
    assert '<span class="coached-key">1</span>' in html


def test_first_and_latest_lead_to_the_player(cast: Cast, client: Client) -> None:
    two_days(cast, cast.student)
    place = Membership.objects.get(user=cast.student)
    address = reverse("progress:beside", args=[place.public_id, "face_on.iron.60"])
    # Without films there is nothing to play, and no way that leads to it.
    assert address not in own_page(client, cast.student)
    from coachhub.videos.models import Clip

    Clip.objects.update(rendition_key="renditions/none.mp4")
    assert address in own_page(client, cast.student)
    response = client.get(address)
    (kept,) = response.context["replay"]["kept_data"]
    assert (kept["first"]["label"], kept["second"]["label"]) == ("2 June", "8 June")
    assert kept["time_map"]["events"][0] == "address"
    assert client.get(reverse("progress:beside", args=[place.public_id, "dtl.iron.60"])).status_code == 404


def test_the_number_of_queries_does_not_grow(cast: Cast, client: Client) -> None:
    counts = []
    for number in range(4):
        range_day(
            cast.student,
            cast.cohort,
            cast.coach,
            number,
            {SWAY: [20.0, 21.0, 22.0]},
            signs={"sway": "likely"},
            confirms=("sway",),
            priority=f"Thing {number}",
            drill=factories.make_drill(),
        )
        if number:
            with CaptureQueriesContext(connection) as queries:
                page_of(client, cast.coach, cast.student)
            counts.append(len(queries))
    assert len(set(counts[1:])) == 1
    assert counts[-1] <= 40


def test_an_empty_page_says_so(cast: Cast, client: Client) -> None:
    html = own_page(client, cast.student)
    assert "No answer has gone out yet." in html
    assert "Nothing to set side by side yet" in html
    assert FIRST.strftime("%B") not in html


def test_each_reader_finds_the_way(cast: Cast, client: Client) -> None:
    place = Membership.objects.get(user=cast.minor)
    address = reverse("progress:student", args=[place.public_id])
    ways = {
        cast.guardian: reverse("guardian:child", args=[cast.minor.public_id]),
        cast.coach: reverse("coach:student", args=[place.public_id]),
        cast.organiser: reverse("organiser:student", args=[place.public_id]),
    }
    for reader, way in ways.items():
        client.force_login(reader)
        assert f'href="{address}"' in client.get(way).content.decode()
