from __future__ import annotations

from datetime import timedelta

import pytest

from coachhub.camps.models import Camp
from coachhub.feedback.domain.clock import pause_clock, resume_clock, start_clock, stop_clock
from coachhub.feedback.models import Review
from tests import factories
from tests.factories import NOW

pytestmark = [pytest.mark.unit, pytest.mark.django_db]


def test_what_was_promised_stays_when_the_camp_changes_its_mind() -> None:
    cohort = factories.make_cohort(factories.make_camp(promise_hours=48, rest_days=[]))
    student = factories.make_student(cohort)
    old = factories.make_review(factories.make_submission(student, cohort), due_at=None)
    start_clock(old, now=NOW)
    Camp.objects.update(promise_hours=12, rest_days=[4, 5], time_zone="America/New_York")
    new = factories.make_review(factories.make_submission(student, cohort), due_at=None)
    start_clock(Review.objects.get(pk=new.pk), now=NOW)
    again = Review.objects.get(pk=old.pk)
    pause_clock(again, reason="asked", now=NOW + timedelta(hours=1))
    resume_clock(again, now=NOW + timedelta(hours=3))
    stop_clock(again, now=NOW + timedelta(hours=30))
    old.refresh_from_db()
    new.refresh_from_db()
    assert old.due_at == NOW + timedelta(hours=50)
    assert new.due_at == NOW + timedelta(hours=12)
