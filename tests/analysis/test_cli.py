"""The command line on truth files, on a real clip, and on input or options it can't use."""

from __future__ import annotations

import gzip
import json
import os
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from analysis.adapters.stopwatch import STAGES, Stopwatch
from analysis.cli import main
from analysis.options import OptionError, checked, parser
from analysis.readout import NOT_VISIBLE
from tests.analysis.clipmaker import CLIPS


def test_truth_readout_has_the_truths_events(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--truth", str(CLIPS / "fo_early.json.gz"), "--json"]) == 0
    readout = json.loads(capsys.readouterr().out)
    data = json.loads(gzip.decompress((CLIPS / "fo_early.json.gz").read_bytes()))
    impact = data["meta"]["events"]["impact"] - data["frames"][0]["t"]
    assert readout["events"]["impact"]["t"] == pytest.approx(impact, abs=1e-4)
    assert readout["signs"]["early_release"]["level"] == "likely"


def test_plain_text_names_view_numbers_and_caution(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--truth", str(CLIPS / "dtl_steep.json.gz")]) == 0
    text = capsys.readouterr().out
    assert "view down-the-line, right-handed" in text
    assert "steep plane" in text
    assert "Not visible to one phone: pressure under the feet" in text
    assert "The centre of mass over the feet is not pressure" in text
    assert "real footage is not validated" in text
    assert "no diagnosis" in text
    assert (
        text.index("set-up (95 %") < text.index("Trunk forward bend at address") < text.index("swing (95 %")
    )


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (lambda p: None, "There is no file"),
        (lambda p: p.write_bytes(b""), ""),
        (lambda p: p.write_text("#EXTM3U\nhttp://192.0.2.1/x.ts\n"), ""),
    ],
)
def test_unreadable_input_ends_with_a_sentence(
    make: object, sentence: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "swing.mp4"
    make(path)  # type: ignore[operator]
    assert main([str(path), "--json"]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert sentence in captured.err
    assert captured.err.strip().endswith(".")


def test_a_broken_truth_file_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "x.json").write_text("{}")
    assert main(["--truth", str(tmp_path / "x.json")]) == 2
    assert "x.json is no truth file" in capsys.readouterr().err


def test_an_empty_bench_folder_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--bench", str(tmp_path)]) == 2
    assert "no clip with a truth file" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([], "Name one clip"),
        (["a.mp4", "--bench", "b"], "Name one clip"),
        (["--truth", "a.json", "--sheet", "b.png"], "--truth doesn't go with --sheet"),
        (["--bench", "a", "--json"], "--bench doesn't go with --json"),
        (["--truth", "a.json", "--swing", "2"], "--truth doesn't go with --swing"),
        (["a.mp4", "--swing", "0"], "--swing counts from 1"),
        (["a.mp4", "--format", "csv"], "--export DIR"),
        (["a.mp4", "--timings"], "--timings goes with --json"),
        (["a.mp4", "--view", "front"], "invalid choice: 'front'"),
        (["a.mp4", "--export", "d", "--format", "xls"], "must be among csv,parquet,c3d, got 'xls'"),
        (["a.mp4", "--colour"], "Unrecognized arguments: --colour"),
    ],
)
def test_options_that_make_no_sense_are_wrong_use(
    arguments: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(arguments) == 64
    said = capsys.readouterr()
    assert words in said.err
    assert len(said.err.strip().splitlines()) == 1
    assert said.out == ""


def test_a_result_that_cannot_be_written_is_said_before_measuring(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    clip = str(CLIPS / "fo_none.mp4")
    (tmp_path / "file").write_text("")
    for arguments, status, words in (
        (["--sheet", str(tmp_path / "x.gif")], 64, "must end with .png"),
        (["--sheet", str(tmp_path / "none" / "x.png")], 73, "There is no folder"),
        (["--sheet", str(tmp_path)], 64, "must end with"),
        (["--export", str(tmp_path / "file")], 73, "is a file: name a folder"),
    ):
        assert main([clip, *arguments]) == status
        assert words in capsys.readouterr().err
    monkeypatch.setattr(os, "access", lambda path, mode: mode == os.R_OK)
    for arguments in (["--sheet", str(tmp_path / "x.png")], ["--export", str(tmp_path / "new")]):
        assert main([clip, *arguments]) == 73
        assert "not permitted" in capsys.readouterr().err
    monkeypatch.setattr(os, "access", lambda path, mode: False)
    assert main([clip]) == 2
    assert "reading it is not permitted" in capsys.readouterr().err


def test_a_folder_is_no_clip(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([str(tmp_path)]) == 2
    assert f"--bench {tmp_path}" in capsys.readouterr().err


def test_help_names_options_statuses_and_limits(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["--help"])
    assert ended.value.code == 0
    text = capsys.readouterr().out
    for words in ("--sheet FILE", "--export DIR", "exit status:", "64", "73", "not validated"):
        assert words in text
    assert max(len(line) for line in text.splitlines()) <= 110


def test_a_clip_gives_readout_sheet_and_tracks(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet, folder = tmp_path / "sheet.png", tmp_path / "new" / "tracks"
    given = ["--json", "--timings", "--sheet", str(sheet), "--export", str(folder)]
    assert main([str(CLIPS / "fo_none.mp4"), "--club", "iron", *given]) == 0
    said = capsys.readouterr()
    readout = json.loads(said.out)
    assert readout["not_visible"] == list(NOT_VISIBLE)
    assert any("not validated" in sentence for sentence in readout["limits"])
    assert set(readout["timings"]["stages"]) == set(STAGES)
    apart = sum(stage["s"] for name, stage in readout["timings"]["stages"].items() if name != "club")
    assert 0.5 * readout["timings"]["total_s"] < apart <= readout["timings"]["total_s"] + 0.01
    assert sheet.read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"
    assert {path.name for path in folder.iterdir()} == {
        "README.txt",
        "swing_1.c3d",
        *(f"swing_1_{table}.csv" for table in ("pose", "club", "events")),
    }
    assert str(sheet) in said.err


def test_timings_are_no_part_of_the_readout_nor_of_equality(measured: Any) -> None:
    clip = measured("fo_none")
    other = replace(clip, timings=Stopwatch().timings())
    assert other.to_json() == clip.to_json()
    assert "timings" not in json.dumps(clip.to_json())
    assert re.fullmatch(
        r"timings: probe [\d.]+ s \(\d+ %\), .* s in all \(club runs beside pose\)", clip.timings.line()
    )


def test_a_stopwatch_adds_up_and_knows_its_stages() -> None:
    watch = Stopwatch()
    for _ in range(3):
        with watch.stage("events"):
            pass
    timings = watch.timings()
    assert 0 < timings.seconds["events"] <= timings.total_s
    assert timings.share("probe") == 0
    with pytest.raises(ValueError, match="stage must be one of"), watch.stage("lunch"):
        pass


def test_defaults_of_an_export() -> None:
    options = checked(parser().parse_args([str(CLIPS / "fo_none.mp4"), "--export", "somewhere"]))
    assert options.format == ("csv", "c3d")
    with pytest.raises(OptionError, match="See --help"):
        parser().parse_args(["--nothing"])
