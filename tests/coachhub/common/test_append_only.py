from __future__ import annotations

from typing import Any

import pytest
from django.db import DatabaseError, connection, transaction

from coachhub.common.domain.events import record
from coachhub.common.models import Event, Sight
from tests.factories import NOW, make_camp, make_user

pytestmark = [pytest.mark.integration, pytest.mark.django_db]


def recorded() -> Event:
    person, camp = make_user(), make_camp()
    return record("camp.edited", camp, by=person, now=NOW, scope=camp.public_id, fields=["name"])


@pytest.mark.parametrize(
    "change", [{"verb": "camp.made"}, {"at": NOW.replace(year=2025)}, {"detail": {"a": 1}}]
)
def test_nothing_that_was_recorded_is_rewritten(change: dict[str, Any]) -> None:
    row = recorded()
    with pytest.raises(DatabaseError, match="never rewritten"), transaction.atomic():
        Event.objects.filter(pk=row.pk).update(**change)
    assert Event.objects.filter(pk=row.pk, verb="camp.edited", at=NOW).exists()


def test_nobody_is_put_in_somebody_elses_place() -> None:
    row, other = recorded(), make_user()
    with pytest.raises(DatabaseError, match="never rewritten"), transaction.atomic():
        Event.objects.filter(pk=row.pk).update(actor=other)


def test_a_deleted_account_leaves_the_row_without_the_person() -> None:
    row = recorded()
    assert row.actor is not None
    row.actor.delete()
    row.refresh_from_db()
    assert row.actor is None and row.verb == "camp.edited"


def test_what_was_seen_is_not_rewritten_either() -> None:
    person, camp = make_user(), make_camp()
    seen = Sight.objects.create(
        person=person, thing="videos.clip", thing_id=camp.public_id, scope_id=camp.public_id, at=NOW, hour=NOW
    )
    with pytest.raises(DatabaseError, match="never rewritten"), transaction.atomic():
        Sight.objects.filter(pk=seen.pk).update(thing="videos.submission")


def test_the_larger_database_refuses_deletion_too() -> None:
    row = recorded()
    if connection.vendor == "postgresql":
        with pytest.raises(DatabaseError, match="never rewritten"), transaction.atomic():
            row.delete()
    assert Event.objects.filter(pk=row.pk).exists()
