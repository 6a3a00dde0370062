"""The bench's text and numbers from scores made by hand, and from a truth file against itself."""

from __future__ import annotations

import copy
import io
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from analysis.bench import run
from analysis.bench.refusals import judge_refusal, read_expectation
from analysis.bench.run import ideal_readout, run_bench, score_all
from analysis.bench.score import ClipScore, score_clip
from analysis.bench.sign_table import reliability_table, sign_table
from analysis.bench.summary import summary
from analysis.bench.table import table
from tests.analysis.conftest import truth_data


def clean(name: str, chance: float, level: str) -> ClipScore:
    likely = ("sway",) if level == "likely" else ()
    score = ClipScore(name, "face_on", True, True, false_likely=likely, clean=True)
    score.clean_p, score.judged = {"sway": chance}, (("sway", chance, False),)
    return score


def faulty(name: str, chance: float, level: str) -> ClipScore:
    score = ClipScore(name, "face_on", True, True, own_sign="sway", own_level=level, own_p=chance, full=True)
    score.judged = (("sway", chance, True),)
    return score


def test_a_readout_against_its_own_truth_has_no_error() -> None:
    data = truth_data("fo_sway")
    ideal = ideal_readout(data)
    score = score_clip("fo_sway", data, ideal, ideal)
    assert all(error == pytest.approx(0, abs=0.01) for error in score.event_frames.values())
    assert score.shaft_error.max() < 0.01
    assert {error for error, _, _ in score.metric.values()} == {0}
    assert (score.own_sign, score.own_level, score.full, score.clean) == ("sway", "likely", True, False)
    assert [entry[0] for entry in score.judged] == ["sway"]


def test_numbers_of_a_refused_clip_are_no_answers() -> None:
    data = truth_data("fo_sway")
    ideal = ideal_readout(data)
    refused = {**ideal, "usable": False, "problems": [{"code": "from_behind"}], "handedness": "left"}
    score = score_clip("fo_sway", data, refused, ideal)
    assert set(score.event_frames.values()) == {None}
    assert (score.shaft_error.size, score.metric, score.judged) == (0, {}, ())
    assert (score.own_level, score.false_likely) == ("cant_tell", ())
    text = table([score, score_clip("other", data, ideal, ideal)])
    assert "clips 2, refused though each has a swing: 1 {'fo_sway': ('from_behind',)}" in text
    assert "view right 1/1, handedness right 1/1" in text
    assert "likely in 1/2 at full amount (bar 90 %) MISSES; not likely: fo_sway (cant_tell, refused)" in text
    assert summary([score])["refused"] == 1


def test_a_moved_event_and_a_turned_shaft_are_counted_as_such() -> None:
    data = truth_data("fo_sway")
    ideal = ideal_readout(data)
    readout = copy.deepcopy(ideal)
    readout["events"]["top"]["t"] += 3 / 60
    readout["events"]["top"]["se"] = 1 / 60
    del readout["events"]["finish"]
    for row in readout["shaft"]:
        row["deg"] += 7
    score = score_clip("fo_sway", data, readout, ideal)
    assert score.event_frames["top"] == pytest.approx(3, abs=0.01)
    assert score.event_z["top"] == pytest.approx(3, abs=0.01)
    assert score.event_frames["finish"] is None
    assert np.median(score.shaft_error) == pytest.approx(7, abs=0.01)


def test_bars_are_met_and_missed_by_the_numbers() -> None:
    good = [faulty("a", 0.9, "likely"), clean("b", 0.02, "not_seen")]
    text = sign_table(good)
    assert "likely in 1/1 at full amount (bar 90 %) meets" in text
    assert "with a sign called likely: 0 (bar 0) meets" in text
    less = replace(faulty("d", 0.6, "possible"), amount=0.85)
    text = sign_table([*good, less])
    assert "likely in 1/1 at full amount (bar 90 %) meets; with lesser amounts 1/2; not likely: d" in text
    assert "likely in 0/0 at full amount (bar 90 %); with lesser amounts 0/1; not likely: d" in sign_table(
        [less]
    )
    bad = [faulty("a", 0.6, "possible"), clean("b", 0.9, "likely"), clean("c", 0.4, "possible")]
    text = sign_table(bad)
    assert "likely in 0/1 at full amount (bar 90 %) MISSES; not likely: a (possible 0.60)" in text
    assert "with a sign called likely: 1 (bar 0) MISSES {'b': ('sway',)}" in text
    assert "with a sign called possible: 1, 1 of 2 signs {'c': ['sway']}" in text


def test_wrong_chances_are_called_wrong() -> None:
    honest = reliability_table([faulty(str(k), 0.97, "likely") for k in range(10)])
    assert "0.970     10  1.000" in honest
    assert "DOES NOT" not in honest
    wrong = reliability_table([clean(str(k), 0.97, "likely") for k in range(10)])
    assert "DOES NOT hold the mean" in wrong


def test_the_numbers_are_json_and_count_the_same() -> None:
    data = truth_data("fo_sway")
    ideal = ideal_readout(data)
    scores = [score_clip("fo_sway", data, ideal, ideal), clean("b", 0.02, "not_seen")]
    numbers = json.loads(json.dumps(summary(scores), allow_nan=False))
    assert numbers["signs"]["full_likely"] == numbers["signs"]["full"] == 1
    assert numbers["views"]["face_on"]["events"]["top"]["worst"] == pytest.approx(0, abs=0.01)
    assert numbers["views"]["dtl"] == {"clips": 0}


def test_a_clip_without_a_swing_is_right_only_with_the_right_reason(tmp_path: Path) -> None:
    path = tmp_path / "shoe.expect.json"
    path.write_text('{"swings": 0, "codes": ["no_golfer", "no_swing"]}')
    wanted = read_expectation(path)
    assert judge_refusal("shoe", wanted, 0, ("no_swing",)).right
    assert not judge_refusal("shoe", wanted, 0, ("too_dark",)).right
    assert not judge_refusal("shoe", wanted, 1, ("no_swing",)).right
    wrong = judge_refusal("shoe", wanted, 1, ())
    assert "right in 0/1 (bar: all) MISSES" in table([], [wrong])
    path.write_text('{"codes": []}')
    with pytest.raises(ValueError, match="must hold 'swings'"):
        read_expectation(path)


def test_the_report_holds_what_was_printed_and_its_numbers(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("a", "b"):
        (tmp_path / f"{name}.mp4").touch()
        (tmp_path / f"{name}.json").touch()
    scores = {"a": faulty("a", 0.9, "likely"), "b": clean("b", 0.02, "not_seen")}
    monkeypatch.setattr(run, "score_one", lambda clip: scores[clip.stem])
    shown = tmp_path / "shown.txt"
    with shown.open("w") as out:
        run_bench(tmp_path, out, report=tmp_path / "report.txt")
    assert (tmp_path / "report.txt").read_text() == shown.read_text()
    assert json.loads((tmp_path / "report.json").read_text())["clips"] == 2
    assert "sway: likely 0.90" in shown.read_text()


def test_an_impossible_number_of_jobs_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match=r"jobs must be in 1\.\.64"):
        run_bench(tmp_path, io.StringIO(), jobs=0)
    assert list(score_all([], 1)) == []
