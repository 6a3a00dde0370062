from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from coachhub.camps.models import Camp, Membership
from coachhub.feedback.domain.practice import log_practice
from coachhub.feedback.enums import PracticeKind, ReviewState
from coachhub.web.offline import ENTRY, kept_files, modules_behind, worker_text
from tests import factories

pytestmark = [pytest.mark.integration, pytest.mark.django_db]


@pytest.fixture
def place() -> Membership:
    today = timezone.localdate()
    camp = factories.make_camp(starts_on=today - timedelta(days=27), ends_on=today, retention_days=30)
    student = factories.make_student(factories.make_cohort(camp), "Sam Student")
    return Membership.objects.select_related("camp", "cohort", "user").get(user=student)


def _page(place: Membership, name: str, camp: Camp | None = None) -> str:
    client = Client()
    client.force_login(place.user)
    query = f"?camp={camp.public_id}" if camp else ""
    return client.get(reverse(f"student:{name}") + query).content.decode()


def test_the_next_weeks_hold_the_last_answers_drill_and_its_stop_rule(place: Membership) -> None:
    assert place.cohort is not None
    assert "last answer fills this page" in _page(place, "last-day")
    coach = factories.make_user()
    drill = factories.make_drill(name="Towel under the arm", stop_rule="stop when the shoulder pinches")
    for days, priority in ((9, "Older thing"), (2, "Keep the arms with the body")):
        at = timezone.now() - timedelta(days=days)
        factories.make_review(
            factories.make_submission(place.user, place.cohort, sent_at=at),
            state=ReviewState.PUBLISHED,
            published_at=at,
            published_by=coach,
            priority=priority,
            drill=drill,
            dose="ten, three days a week",
        )
    page = _page(place, "last-day")
    assert "Keep the arms with the body" in page and "Older thing" not in page
    assert (
        "Towel under the arm" in page
        and "Stop when the shoulder pinches." in page
        and "ten, three days" in page
    )
    assert page.count('<th scope="row">from ') == 6


def test_a_red_flag_takes_drill_and_weeks_away(place: Membership) -> None:
    assert place.cohort is not None
    factories.make_review(
        factories.make_submission(place.user, place.cohort, pain_today=True, red_flags=["night"]),
        state=ReviewState.PUBLISHED,
        published_at=timezone.now(),
        published_by=factories.make_user(),
        priority="Keep the arms with the body",
        drill=factories.make_drill(name="Towel under the arm"),
    )
    page = _page(place, "last-day")
    assert "Towel under the arm" not in page and '<th scope="row">from ' not in page
    assert "swing or practise before" in page


def test_a_drill_that_hurts_is_no_plan_for_the_weeks(place: Membership) -> None:
    assert place.cohort is not None
    coach = factories.make_user()
    factories.join(coach, place.cohort, "coach")
    review = factories.make_review(
        factories.make_submission(place.user, place.cohort),
        state=ReviewState.PUBLISHED,
        published_at=timezone.now(),
        published_by=coach,
        priority="Keep the arms with the body",
        drill=factories.make_drill(name="Towel under the arm", avoid_sites=["wrist"]),
    )
    page = _page(place, "last-day")
    assert "This hurts" in page and page.count('<th scope="row">from ') == 6
    assert "Ask a clinician before you do this drill" not in page
    factories.make_intake(place.user, pain="past", pain_sites=["wrist"])
    assert "Ask a clinician before you do this drill" in _page(place, "last-day")
    log_practice(review, PracticeKind.HURTS, by=place.user, on_day=timezone.localdate(), now=timezone.now())
    page = _page(place, "last-day")
    assert "you said that this hurts" in page and '<th scope="row">from ' not in page


def _range_day(place: Membership, days: int, *, club: str, view: str, fps: float = 60.0) -> None:
    """Three swings with an answer, so many days before the last."""
    assert place.cohort is not None
    at = timezone.now() - timedelta(days=days)
    day = place.camp.ends_on - timedelta(days=days)
    sent = factories.make_submission(
        place.user, place.cohort, sent_at=at, range_day=day, club_class=club, created_at=at
    )
    clip = factories.make_clip(sent, view=view, rendition_key="renditions/none")
    for _ in range(3):
        factories.make_swing(clip, data=factories.readout_data({}) | {"view": view, "fps": fps})
    coach = factories.make_user()
    factories.make_review(sent, state=ReviewState.PUBLISHED, published_at=at, published_by=coach)


def test_before_and_after_are_of_one_club_view_and_frame_rate(place: Membership) -> None:
    _range_day(place, 20, club="iron", view="face_on")
    _range_day(place, 2, club="driver", view="face_on")
    _range_day(place, 2, club="iron", view="dtl")
    _range_day(place, 2, club="iron", view="face_on", fps=240.0)
    assert "Nothing to set side by side yet" in _page(place, "last-day")
    _range_day(place, 9, club="iron", view="face_on")
    _range_day(place, 1, club="iron", view="face_on")
    page = _page(place, "last-day")
    assert page.count('class="pair"') == 1 and page.count("Play the two side by side") == 1
    first, latest = (place.camp.ends_on - timedelta(days=days) for days in (20, 1))
    assert f"{first.day} {first:%B} (3 swings) beside {latest.day} {latest:%B} (3 swings)." in page


def test_a_returning_camper_finds_the_earlier_camp_and_nobody_elses(place: Membership) -> None:
    old = factories.make_camp("Spring camp", starts_on=date(2025, 4, 1), ends_on=date(2025, 4, 28))
    factories.join(place.user, factories.make_cohort(old))
    factories.make_student(factories.make_cohort(factories.make_camp("Strangers' camp")))
    page = _page(place, "last-day", place.camp)
    assert "Spring camp" in page and "Strangers" not in page


def test_the_day_on_which_videos_go_is_said(place: Membership) -> None:
    goes = place.camp.ends_on + timedelta(days=30)
    assert f"{goes.day} {goes:%B %Y}" in _page(place, "last-day")


def test_the_worker_keeps_the_guide_with_all_its_modules_and_no_other_page() -> None:
    modules = modules_behind(ENTRY)
    assert {"js/behaviours/upload_store.js", "js/core/phonecheck.js", "js/core/filmchecks.js"} <= set(modules)
    text = worker_text(reverse("guide"))
    assert all(one in text for one in kept_files()) and len(kept_files()) > len(modules)
    for private in ("/my/", "/media/", "/uploads/", "/account/"):
        assert private not in text


def test_the_guide_is_the_same_for_everybody(place: Membership) -> None:
    client = Client()
    stranger = client.get(reverse("guide")).content
    client.force_login(place.user)
    assert client.get(reverse("guide")).content == stranger
    assert b"csrfmiddlewaretoken" not in stranger and b"Sam Student" not in stranger
