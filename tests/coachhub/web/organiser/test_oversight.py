from __future__ import annotations

import re

import pytest
from django.test import Client
from django.urls import reverse

from coachhub.camps.models import Camp
from coachhub.common.domain.events import record
from coachhub.feedback.enums import ReviewState
from coachhub.feedback.models import Review
from tests import factories
from tests.cast import Cast, make_cast
from tests.coachhub.progress.test_service_record import answered
from tests.factories import NOW

pytestmark = [pytest.mark.unit, pytest.mark.django_db]


@pytest.fixture
def cast() -> Cast:
    return make_cast()


@pytest.fixture
def organiser(cast: Cast) -> Client:
    client = Client()
    client.force_login(cast.organiser)
    return client


def test_a_camp_is_made_after_another_one(cast: Cast, organiser: Client) -> None:
    cast.organiser.may_make_camps = True
    cast.organiser.save()
    address = reverse("organiser:camp-copy", kwargs={"public_id": cast.camp.public_id})
    assert b"Bring along" in organiser.get(address).content
    plan = {
        "name": "Heron Lake, autumn",
        "starts_on": "2026-09-01",
        "ends_on": "2026-09-28",
        "time_zone": "Asia/Tokyo",
        "promise_hours": 36,
        "retention_days": 30,
        "cohorts": "on",
    }
    answer = organiser.post(address, plan)
    new = Camp.objects.get(name="Heron Lake, autumn")
    assert answer.headers["Location"] == reverse("organiser:camp", kwargs={"public_id": new.public_id})
    assert new.promise_hours == 36 and new.cohorts.count() == cast.camp.cohorts.count()
    assert organiser.post(address, plan | {"ends_on": "2026-08-01"}).status_code == 200


def test_moving_a_coachs_work_says_how_much_went_over(cast: Cast, organiser: Client) -> None:
    for _ in range(2):
        factories.make_review(
            factories.make_submission(cast.student, cast.cohort),
            state=ReviewState.CLAIMED,
            claimed_by=cast.coach,
            claimed_at=NOW,
        )
    address = reverse("organiser:move-work", kwargs={"public_id": cast.cohort.public_id})
    assert b"2 reviews at hand" in organiser.get(address).content
    same = organiser.post(address, {"away_from": cast.coach.pk, "to": cast.coach.pk})
    assert same.status_code == 422 and b"two different coaches" in same.content
    done = organiser.post(address, {"away_from": cast.coach.pk, "to": cast.coach_elsewhere.pk}, follow=True)
    assert b"2 reviews went over" in done.content
    assert Review.objects.filter(claimed_by=cast.coach_elsewhere).count() == 2


def test_the_log_is_read_by_person_and_in_words(cast: Cast, organiser: Client) -> None:
    submission = factories.make_submission(cast.student, cast.cohort)
    scope = cast.camp.public_id
    record("submission.sent", submission, by=cast.student, now=NOW, scope=scope)
    record("camp.edited", cast.camp, by=cast.organiser, now=NOW, scope=scope, fields=["promise_hours"])
    address = reverse("organiser:log", kwargs={"public_id": scope})
    page = organiser.get(address).content.decode()
    assert "sent it" in page and "changed the camp" in page and "promise hours" in page
    # 09:30 UTC is 18:30 in the camp's zone, Tokyo.
    assert "10 Jun, 18:30" in page
    one = organiser.get(address, {"by": str(cast.student.public_id)}).content.decode()
    assert "sent it" in one and "changed the camp" not in one
    # Nobody of another camp can be asked for, and nonsense is simply not a filter.
    other = organiser.get(address, {"by": str(cast.outsider.public_id), "before": "soon", "kind": "all"})
    assert other.status_code == 200 and b"sent it" in other.content


def test_the_service_record_tells_an_empty_start_too(cast: Cast, organiser: Client) -> None:
    member = cast.student.memberships.get()
    address = reverse("organiser:record", kwargs={"public_id": member.public_id})
    assert b"Nothing was sent yet" in organiser.get(address).content
    factories.make_review(factories.make_submission(cast.student, cast.cohort))
    assert b"Opened by the student" in organiser.get(address).content


def test_the_service_record_says_all_of_it_in_the_camps_zone(cast: Cast, organiser: Client) -> None:
    """The hours of `answered` from Monday 8 June, 0:00 UTC; Tokyo is nine hours ahead."""
    answered(cast)
    address = reverse("organiser:record", kwargs={"public_id": cast.student.memberships.get().public_id})
    text = " ".join(re.sub(r"<[^>]+>", " ", organiser.get(address).content.decode()).split())
    for told in (
        "Received 8 Jun, 09:00, 2 clips",
        "Clip 1 refused 8 Jun, 09:30 It is too dark.",
        "Clock started 8 Jun, 10:00, 48 hours promised",
        "Stood still 8 Jun, 20:00 to 9 Jun, 06:00: a question to the student",
        "Promised for 10 Jun, 20:00",
        f"Delivered 10 Jun, 01:00, {cast.coach.name} (29.0 h on the clock)",
        "Opened by the student 10 Jun, 06:00",
    ):
        assert told in text, told
