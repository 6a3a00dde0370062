"""A clip is measured once in a run, whoever asks, and again when clip or options differ."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from coachhub.bootstrap.testrun import MEASURED_VARIABLE
from coachhub.swings.domain import measuring
from tests import measured

pytestmark = pytest.mark.unit


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> list[str]:
    calls: list[str] = []

    def child(target: str, kwargs: dict[str, Any], **more: Any) -> str:
        calls.append(target)
        if "out_dir" in kwargs:
            (Path(kwargs["out_dir"]) / "readout.json").write_text(str(kwargs["options"]))
        return "answer"

    monkeypatch.setenv(MEASURED_VARIABLE, str(tmp_path / "kept"))
    monkeypatch.setattr(measured.sandbox, "run_limited", child)
    return calls


def measure(tmp_path: Path, name: str, clip: Path, **options: Any) -> str:
    out = tmp_path / name
    out.mkdir()
    measured.run_limited(measuring.TARGET, {"path": str(clip), "out_dir": str(out), "options": options})
    return (out / "readout.json").read_text()


def test_only_the_first_who_asks_lets_it_be_measured(tmp_path: Path, asked: list[str]) -> None:
    clip, same, other = (tmp_path / name for name in ("a.mp4", "b.mp4", "c.mp4"))
    clip.write_bytes(b"film")
    same.write_bytes(b"film")
    other.write_bytes(b"another")
    assert measure(tmp_path, "1", clip, view="x") == measure(tmp_path, "2", same, view="x")
    assert len(asked) == 1
    measure(tmp_path, "3", clip, view="y")
    measure(tmp_path, "4", other, view="x")
    assert len(asked) == 3


def test_checks_and_renditions_are_always_done(tmp_path: Path, asked: list[str]) -> None:
    assert [measured.run_limited("some.module:check", {"path": "x"}) for _ in range(2)] == ["answer"] * 2
    assert len(asked) == 2


def test_an_object_is_made_once(tmp_path: Path, asked: list[str]) -> None:
    clip, made = tmp_path / "a.mp4", []
    clip.write_bytes(b"film")
    found = [measured.remembered(clip, {}, lambda: made.append(1) or {"n": len(made)}) for _ in range(2)]
    assert found == [{"n": 1}, {"n": 1}]
