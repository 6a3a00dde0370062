"""The whole way on real clips: decode, pose, club, ball, events, metrics, signs. Each clip is measured once."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from analysis.pipeline import ClipReadout, analyse_clip
from analysis.types import EVENTS
from tests.analysis.clipmaker import CLIPS
from tests.analysis.conftest import truth_data

ROOT = Path(__file__).resolve().parents[2]
NAMES = ("fo_none", "fo_left", "fo_early", "fo_reverse", "dtl_none", "dtl_steep")
KEYS = {
    *("view", "handedness", "fps", "usable", "problems", "events", "shaft", "metrics", "signs", "version"),
    *("view_yaw", "stretch", "strike", "club_source", "not_visible", "limits"),
}
Measured = Callable[[str], ClipReadout]


@pytest.mark.parametrize("name", NAMES)
def test_view_hand_and_events(name: str, measured: Measured) -> None:
    meta, first = truth_data(name)["meta"], truth_data(name)["frames"][0]["t"]
    readout = measured(name).swing_json()
    assert (readout["view"], readout["handedness"], readout["usable"]) == (
        meta["view"],
        meta["handedness"],
        True,
    )
    assert readout["problems"] == []
    off = {k: abs(e["t"] - (meta["events"][k] - first)) * 60 for k, e in readout["events"].items()}
    assert {"address", "takeaway", "top", "lead_arm_parallel_down", "impact", "finish"} <= set(off)
    # The bars of the engine, in frames of 60 a second; down-the-line arm times are only stated with a wide error.
    bars = {"top": 1.0, "impact": 1.0, "takeaway": 2.0, "address": 4.0, "finish": 6.0}
    if meta["view"] == "face_on":
        bars |= dict.fromkeys(
            ("shaft_parallel_back", "delivery_shaft_parallel", "shaft_parallel_through"), 1.5
        )
        bars |= {"lead_arm_parallel_back": 2.5, "lead_arm_parallel_down": 1.5}
    assert {k: v for k, v in off.items() if v > bars.get(k, 6.0)} == {}


@pytest.mark.parametrize("name", NAMES)
def test_shaft_direction(name: str, measured: Measured) -> None:
    data = truth_data(name)
    meta, frames = data["meta"], data["frames"]
    first, events = frames[0]["t"], meta["events"]
    answers = {round(row["t"], 3): row["deg"] for row in measured(name).swing_json()["shaft"]}
    errors, wanted = [], 0
    for frame in frames:
        if not events["takeaway"] <= frame["t"] <= events["impact"] + 0.1 or frame["shaft_visible"] < 0.5:
            continue
        wanted += 1
        t = min(answers, key=lambda a, f=frame: abs(a - (f["t"] - first)))
        if abs(t - (frame["t"] - first)) < 0.01:
            (x0, y0), (x1, y1) = frame["club2d"]
            errors.append(_apart(answers[t], x1 - x0, y1 - y0))
    assert len(errors) >= 0.88 * wanted
    assert sum(e <= 5 for e in errors) >= 0.93 * len(errors)


def _apart(deg: float, dx: float, dy: float) -> float:
    from math import atan2, degrees

    return abs((deg - degrees(atan2(dy, dx)) + 180) % 360 - 180)


@pytest.mark.parametrize(
    ("name", "sign"),
    [("fo_early", "early_release"), ("fo_reverse", "reverse_spine_tilt"), ("dtl_steep", "steep_plane")],
)
def test_built_in_fault_is_likely(name: str, sign: str, measured: Measured) -> None:
    signs = measured(name).swing_json()["signs"]
    assert signs[sign]["level"] == "likely"
    assert [k for k, s in signs.items() if s["level"] == "likely"] == [sign]


@pytest.mark.parametrize("name", ["fo_none", "fo_left", "dtl_none"])
def test_clean_swing_has_no_likely_sign(name: str, measured: Measured) -> None:
    assert [k for k, s in measured(name).swing_json()["signs"].items() if s["level"] == "likely"] == []


@pytest.mark.parametrize("name", NAMES)
def test_true_metrics_lie_inside_the_stated_intervals(name: str, measured: Measured) -> None:
    from analysis.cli import truth_readout

    ideal = truth_readout(CLIPS / f"{name}.json.gz")["metrics"]
    mine = measured(name).swing_json()["metrics"]
    pairs = [(mine[k], ideal[k]) for k in mine if "value" in mine[k] and "value" in ideal[k]]
    inside = [abs(a["value"] - b["value"]) <= 1.96 * a["se"] for a, b in pairs]
    assert len(inside) >= 10
    assert sum(inside) >= 0.85 * len(inside)  # 0.90 is the bar over all clips; one clip has some 30 values


def test_command_line_prints_the_keys_and_repeats_exactly(measured: Measured) -> None:
    command = [sys.executable, "-m", "analysis", str(CLIPS / "fo_none.mp4"), "--json"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
    readout = json.loads(done.stdout)
    assert set(readout) == KEYS
    assert set(readout["events"]) <= set(EVENTS)
    assert set(readout["shaft"][0]) == {"t", "deg", "confidence"}
    # A second run in a fresh process gives the same numbers to the last digit.
    assert readout == json.loads(json.dumps(measured("fo_none").swing_json()))


def test_a_swing_of_the_other_hand_asks_whether_the_video_is_mirrored(measured: Measured) -> None:
    """The declared hand is used; the question goes to the student."""
    clip = analyse_clip(CLIPS / "fo_left.mp4", declared_hand="right")
    readout = clip.swing_json()
    assert readout["handedness"] == "right"
    assert [p["code"] for p in readout["problems"] if p["code"] == "mirrored"] == ["mirrored"]
    assert measured("fo_left").swing_json()["problems"] == []
