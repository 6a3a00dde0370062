"""Each drill of the library can be given to somebody: what to do, how much, when to stop, how it is known."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from analysis.causes import cause_map
from coachhub.accounts.enums import PainSite
from coachhub.feedback.models import Drill

pytestmark = pytest.mark.unit

LIBRARY = Path(__file__).resolve().parents[3] / "coachhub" / "feedback" / "library" / "drills.csv"
NO_STOP_RULE = "none of its own; pain always means stop"
SIGNS = {
    "early_release",
    "stalled_finish",
    "steep_plane",
    "over_the_top",
    "reverse_spine_tilt",
    "overlong_backswing",
    "poor_hinge",
    "sway",
    "slide",
    "hanging_back",
    "early_extension",
    "lead_arm_collapse",
}
# What a stop rule says, and the pain site under which the intake stores it.
SITE_WORDS = {
    "lower back": "low_back",
    "shoulder": "shoulder",
    "elbow": "elbow",
    "wrist": "wrist",
    "thumb": "wrist",
    "hip": "hip",
    "knee": "knee",
    "ankle": "ankle",
    "Achilles": "ankle",
    "toe": "ankle",
}


def drills() -> list[dict[str, str]]:
    with LIBRARY.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("drill", drills(), ids=lambda drill: drill["key"])
def test_a_drill_says_what_to_do_how_much_and_when_to_stop(drill: dict[str, str]) -> None:
    for field in ("name", "how", "cue", "club_and_speed", "dose", "per_week", "progression", "video_check"):
        assert drill[field].strip(), field
    assert (
        drill["stop_rule"] == NO_STOP_RULE or "pain" in drill["stop_rule"] or "balance" in drill["stop_rule"]
    )
    assert drill["evidence"][:2] in {"S:", "M:", "C:"}


@pytest.mark.parametrize("drill", drills(), ids=lambda drill: drill["key"])
def test_a_drill_belongs_to_the_cause_map_and_to_a_sign_that_is_measured(drill: dict[str, str]) -> None:
    assert not drill["node"] or drill["node"] in cause_map().nodes
    assert not drill["sign"] or drill["sign"] in SIGNS
    assert not (drill["sign"] and not drill["node"])


@pytest.mark.parametrize("drill", drills(), ids=lambda drill: drill["key"])
def test_a_painful_place_in_the_stop_rule_keeps_the_drill_away(drill: dict[str, str]) -> None:
    said = {site for word, site in SITE_WORDS.items() if word in drill["stop_rule"]}
    if "back pain" in drill["stop_rule"] and "lower" not in drill["stop_rule"]:
        said |= {"low_back", "upper_back"}
    assert set(filter(None, drill["avoid_sites"].split(";"))) == said
    assert said <= set(PainSite.values)


def test_every_text_fits_its_column() -> None:
    for drill in drills():
        for name, text in drill.items():
            most = getattr(Drill._meta.get_field(name), "max_length", None)
            assert most is None or len(text) <= most, (drill["key"], name)


def test_every_measured_sign_has_a_drill_and_keys_differ() -> None:
    rows = drills()
    assert {row["sign"] for row in rows} - {""} == SIGNS
    assert len({row["key"] for row in rows}) == len({row["name"] for row in rows}) == len(rows) == 34


def test_balls_in_a_session_stay_within_common_practice() -> None:
    """20 to 60 balls a session, 3 to 4 sessions a week (common practice, no study); brushes aren't balls."""
    counted = {row["key"]: row["dose"] for row in drills()}
    assert counted["half-and-hold"] == "4 sets of 8"
    assert counted["finish-and-count"] == "2 sets of 15"
    for key, dose in counted.items():
        head, _, rest = dose.partition(" sets of ")
        if head.isdigit() and rest.isdigit():
            assert 10 <= int(head) * int(rest) <= 60, key
