"""The story is sound before anything is measured: no clip twice, no time backwards, words that fit."""

from __future__ import annotations

import csv
import json
from datetime import date
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from analysis.causes import cause_map
from coachhub.feedback.domain.library import SHIPPED
from coachhub.feedback.models import Finding, Mark, Moment, Review
from coachhub.progress.demo import scenario
from coachhub.progress.demo.scenario import STORY, Calendar
from coachhub.swings.enums import SignKey, SwingEvent

pytestmark = pytest.mark.unit

CLIPS = Path(__file__).resolve().parents[4] / "fixtures" / "camp"
DRAWN = "empty_range"


def answers() -> list[dict[str, object]]:
    return [step for _, step in scenario.read().steps() if step["do"] == "answer"]


def test_every_clip_of_the_camp_is_sent_exactly_once() -> None:
    stored = {path.stem for path in CLIPS.glob("*.mp4")}
    told = scenario.read().clips()
    assert sorted(told) == sorted({*stored, DRAWN})
    assert len(stored) == 31


def test_two_coaches_one_organiser_ten_students_in_two_cohorts_over_four_weeks() -> None:
    told = scenario.read()
    roles = [person["role"] for person in told.staff]
    assert (roles.count("coach"), roles.count("organiser"), len(told.students)) == (2, 1, 10)
    assert {student.person["cohort"] for student in told.students} == set(told.cohorts)
    assert len(told.cohorts) == 2
    assert told.camp["ends"] - told.camp["starts"] == 27


def test_everybody_has_an_address_that_reaches_nobody() -> None:
    told = scenario.read()
    people = [*told.staff, *told.invited, *(student.person for student in told.students)]
    addresses = [person["email"] for person in people]
    # example.org is reserved for documentation: RFC 2606, section 3.
    assert all(address.endswith("@example.org") and address == address.lower() for address in addresses)
    assert len(set(addresses)) == len(addresses)


def test_clips_show_the_hand_and_the_club_that_the_story_says() -> None:
    import gzip

    for student, step in scenario.read().steps():
        for clip in step.get("clips", ()):
            if clip == DRAWN:
                continue
            with gzip.open(CLIPS / f"{clip}.json.gz", "rt") as file:
                meta = json.load(file)["meta"]
            assert meta["handedness"] == student.person["intake"]["handedness"], clip
            assert {"iron7": "iron", "hybrid": "hybrid"}[meta["club"]] == step["club_class"], clip


def test_answers_use_known_signs_drills_nodes_and_events() -> None:
    with SHIPPED.open(encoding="utf-8", newline="") as file:
        drills = {row["key"] for row in csv.DictReader(file)}
    for step in answers():
        assert {*step["sees"], *step.get("not", [])} <= set(SignKey.values)
        assert step.get("drill") is None or step["drill"] in drills
        for name in ("mechanism_node", "root_node"):
            assert step["finding"].get(name, "bel_lift") in cause_map().nodes
        for drawn in (*step["marks"], *step["moments"]):
            assert drawn["event"] in SwingEvent.values
            assert drawn.get("until", "impact") in SwingEvent.values


def test_texts_fit_their_columns() -> None:
    for step in answers():
        for model, texts in (
            (Review, {name: step[name] for name in ("words", "keep", "priority", "cue")}),
            (Finding, step["finding"]),
            *((Mark, {"label": m["label"], "note": m["note"]}) for m in step["marks"]),
            *((Moment, {"note": m["note"]}) for m in step["moments"]),
        ):
            for name, text in texts.items():
                most = model._meta.get_field(name).max_length
                assert most is None or len(text) <= most, (step["of"], name)


def test_a_clip_that_stands_for_two_swings_is_refused(tmp_path: Path) -> None:
    told = json.loads(STORY.read_text(encoding="utf-8"))
    told["students"][1]["story"][0]["clips"] = ["student_a_day1_1"]
    path = tmp_path / "camp.json"
    path.write_text(json.dumps(told), encoding="utf-8")
    with pytest.raises(ValueError, match="clip"):
        scenario.read(path)


def test_a_story_that_runs_backwards_or_into_the_future_is_refused(tmp_path: Path) -> None:
    told = json.loads(STORY.read_text(encoding="utf-8"))
    told["students"][0]["story"][-1]["day"] = 0
    path = tmp_path / "camp.json"
    path.write_text(json.dumps(told), encoding="utf-8")
    with pytest.raises(ValueError, match="mirela"):
        scenario.read(path)


def test_days_follow_the_camps_zone_over_a_clock_change() -> None:
    """Lisbon went back from UTC+1 to UTC on 26 October 2025, 01:00 UTC (IANA time zone database)."""
    calendar = Calendar(date(2025, 10, 27), ZoneInfo("Europe/Lisbon"))
    before, after = calendar.at(-2, "18:00"), calendar.at(-1, "18:00")
    assert [at.utcoffset().total_seconds() for at in (before, after)] == [3600, 0]  # type: ignore[union-attr]
    assert (
        after.astimezone(ZoneInfo("UTC")) - before.astimezone(ZoneInfo("UTC"))
    ).total_seconds() == 25 * 3600
