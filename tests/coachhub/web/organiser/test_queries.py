"""Pages of lists ask the database as often for three rows as for one."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from coachhub.camps.domain.invitations import invite
from coachhub.camps.enums import Role
from coachhub.camps.models import Membership
from coachhub.feedback.enums import ReviewState
from coachhub.swings.models import SignJudgement
from coachhub.web.organiser.exports import EXPORTS
from tests import factories
from tests.cast import Cast, make_cast
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db]


def add_one_of_everything(cast: Cast) -> None:
    camp = factories.make_camp()
    factories.join(cast.organiser, factories.make_cohort(camp), Role.ORGANISER)
    factories.make_cohort(cast.camp)
    factories.join(factories.make_user(), cast.cohort, Role.COACH)
    invite(cast.cohort, email=f"p{camp.pk}@example.org", by=cast.organiser, now=timezone.now())
    student = factories.make_student(cast.cohort)
    factories.make_minor(cast.cohort, guardian=factories.make_user())
    for person in (student, cast.student):
        submission = factories.make_submission(person, cast.cohort)
        factories.make_review(
            submission, state=ReviewState.PUBLISHED, published_at=NOW, published_by=cast.coach
        )
        swing = factories.make_swing(factories.make_clip(submission), signs={"sway": "likely"})
        SignJudgement.objects.create(swing=swing, sign="sway", verdict="agree", by=cast.coach, created_at=NOW)
        factories.make_review(factories.make_submission(person, cast.cohort))


def camp_page(name: str) -> Callable[[Cast], str]:
    return lambda cast: reverse(f"organiser:{name}", args=[cast.camp.public_id])


PAGES: dict[str, Callable[[Cast], str]] = {
    "camps": lambda cast: reverse("organiser:camps"),
    "cohort": lambda cast: reverse("organiser:cohort", args=[cast.cohort.public_id]),
    "student": lambda cast: reverse(
        "organiser:student", args=[Membership.objects.get(user=cast.student).public_id]
    ),
    **{
        name: camp_page(name)
        for name in ("camp", "promise", "signs", "safety", "log", *(f"{table}-csv" for table in EXPORTS))
    },
}


@pytest.mark.parametrize("page", sorted(PAGES))
def test_the_number_of_queries_does_not_grow(client: Client, page: str) -> None:
    cast = make_cast()
    client.force_login(cast.organiser)
    counts = []
    for rows in (1, 2):
        for _ in range(rows):
            add_one_of_everything(cast)
        with CaptureQueriesContext(
            connection,
        ) as queries:
            answer = client.get(PAGES[page](cast))
        assert answer.status_code == 200
        counts.append(len(queries))
    assert counts[0] == counts[1]
    assert counts[0] <= 20
