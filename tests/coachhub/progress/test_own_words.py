"""The page of one's own data: words for people, in which nothing is lost that they could read."""

from __future__ import annotations

import zipfile
from io import BytesIO

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage

from coachhub.progress.domain import takeaway
from coachhub.progress.domain.own_words import in_words, said_of
from coachhub.swings.models import AnalysisRun
from tests import factories
from tests.cast import make_cast
from tests.factories import NOW


@pytest.mark.unit
@pytest.mark.parametrize(
    ("value", "words"),
    [
        (True, "yes"),
        (False, "no"),
        (3, "3"),
        ("2026-06-09", "9 June 2026"),
        ("2026-06-10T09:30:00+00:00", "10 June 2026, 09:30 UTC"),
        ("2026-06-99", "2026-06-99"),
        ("let it go", "let it go"),
        (["low_back", "my own words"], "low_back; my own words"),
        ({"hours": 48, "rest_days": [6]}, "hours: 48, rest days: 6"),
        # A key of the cause map and one of a sign, in the words of their tables.
        (["bel_lift", "sway"], '"the ball has to be helped up"; sway'),
    ],
)
def test_values_are_said(value: object, words: str) -> None:
    assert said_of(value) == words


@pytest.mark.unit
def test_what_only_programs_need_and_what_is_empty_is_left_out() -> None:
    row = {
        "public_id": "62071d28-4029-5468-9285-b5eddb80d458",
        "submission": "62071d28-4029-5468-9285-b5eddb80d458",
        "range_day": "2026-06-09",
        "pain_words": "",
        "intents": [],
        "pain_today": False,
        "data": {"metrics": {"tempo": {"value": 3.0}}},
    }
    (section,) = in_words({"What you sent": [row]})
    (told,) = section.rows
    assert told.title == "What you sent, 1, 9 June 2026"
    assert [(line.name, line.words) for line in told.lines] == [
        ("Range day", "9 June 2026"),
        ("Pain today", "no"),
        ("Data", ""),
    ]
    assert '"tempo"' in told.lines[-1].nested


@pytest.mark.unit
@pytest.mark.django_db
def test_pictures_of_the_measuring_are_taken_along() -> None:
    cast = make_cast()
    clip = factories.make_clip(factories.make_submission(cast.student, cast.cohort))
    factories.make_swing(clip)
    AnalysisRun.objects.update(result_key="measured/mine")
    for name in ("still_1_lead_arm_parallel_down.jpg", "sheet_1.jpg", "readout.json"):
        default_storage.save(f"measured/mine/{name}", ContentFile(name.encode()))
    row = takeaway.order(cast.student, by=cast.student, now=NOW)
    assert takeaway.pack(row.pk, clock=lambda: NOW)
    row.refresh_from_db()
    with default_storage.open(row.file_key) as file:
        archive = zipfile.ZipFile(BytesIO(file.read()))
    start = f"media/2026-06-09-clip-1-{clip.pk}"
    assert {f"{start}-sheet_1.jpg", f"{start}-still_1_lead_arm_parallel_down.jpg"} <= set(archive.namelist())
    assert archive.read(f"{start}-sheet_1.jpg") == b"sheet_1.jpg"
    page = archive.read("index.html").decode()
    words = "Clip 1 of 9 June 2026, swing 1: lead arm parallel down"
    assert f'<img loading="lazy" src="{start}-still_1_lead_arm_parallel_down.jpg" alt="{words}">' in page
