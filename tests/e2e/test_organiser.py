from __future__ import annotations

import pytest
from django.urls import reverse

from analysis.metrics.registry import metrics_of
from coachhub.camps.models import Membership
from tests import factories
from tests.cast import make_cast
from tests.e2e.axe import serious_findings
from tests.e2e.conftest import PHONE, OpenPage

pytestmark = [pytest.mark.e2e, pytest.mark.django_db(transaction=True)]


def test_a_long_list_of_numbers_fits_the_phone(open_page: OpenPage) -> None:
    """The widest name of a number decides how wide its list wants to be."""
    cast = make_cast()
    data = factories.readout_data({})
    names = [spec.name for spec in metrics_of("face_on")]
    data["metrics"] = {name: {"value": 90.0, "se": 5.0, "unit": "deg", "at": "top"} for name in names}
    submission = factories.make_submission(cast.student, cast.cohort)
    factories.make_swing(factories.make_clip(submission), data=data)
    factories.make_review(submission, state="published", published_at=factories.NOW, published_by=cast.coach)
    place = Membership.objects.get(user=cast.student)
    page = open_page(cast.organiser, reverse("organiser:student", args=[place.public_id]), size=PHONE)
    assert page.locator("select option").count() == len(names)
    assert page.evaluate("document.documentElement.scrollWidth - window.innerWidth") <= 0
    assert serious_findings(page) == []
