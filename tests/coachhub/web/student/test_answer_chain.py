from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from coachhub.feedback.models import Finding
from tests import factories
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db]


def test_causes_chosen_from_the_map_are_said_in_the_maps_words(client: Client) -> None:
    cohort = factories.make_cohort()
    student, coach = factories.make_student(cohort), factories.make_user()
    factories.join(coach, cohort, "coach")
    review = factories.make_review(
        factories.make_submission(student, cohort, state="answered"),
        state="published",
        published_at=NOW,
        published_by=coach,
        priority="Ball first",
    )
    Finding.objects.create(
        review=review, mechanism_node="ds_early_release", root_kind="idea", root_node="bel_lift"
    )
    factories.make_thread(student, cohort)
    client.force_login(student)
    page = client.get(reverse("student:answer", args=[review.public_id])).content.decode()
    assert "wrist angle opens too early" in page
    assert "the ball has to be helped up" in page
    assert "Where the ball goes" not in page
