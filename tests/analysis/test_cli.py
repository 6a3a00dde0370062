"""The command line on truth files and on input it can't read."""

from __future__ import annotations

import gzip
import json
from pathlib import Path

import pytest

from analysis.cli import main
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
    assert "no diagnosis" in text


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


def test_nothing_or_too_much_is_wrong_use(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([]) == 64
    assert main(["a.mp4", "--bench", "b"]) == 64
    assert "Name one clip" in capsys.readouterr().err
