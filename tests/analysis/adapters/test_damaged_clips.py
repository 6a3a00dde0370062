"""Damaged files end in a refusal with a sentence: no crash of the parent, no hang, nothing left behind."""

from __future__ import annotations

import os
from collections import Counter
from pathlib import Path

import pytest

from analysis.adapters.sandbox import ChildError, Limits, run_limited
from tests.analysis.adapters.damage import KINDS, damaged, whole_clips

MB = 1024**2
# Each child must end far below these; reaching one of them fails the test.
LIMITS = Limits(cpu_s=60, memory_bytes=1500 * MB, file_bytes=MB, wall_s=120)
SHARE, SINGLE = 88, 11


@pytest.fixture(scope="module")
def clips(tmp_path_factory: pytest.TempPathFactory) -> list[bytes]:
    return whole_clips(tmp_path_factory.mktemp("whole"))


def written(folder: Path, numbers: range, clips: list[bytes]) -> list[Path]:
    """The damaged clips with these numbers, on disk."""
    out = []
    for number in numbers:
        kind, data = damaged(number, clips)
        out.append(folder / f"{number:04d}_{kind}.bin")
        out[-1].write_bytes(data)
    return out


def open_files() -> int:
    """Descriptors this process holds."""
    own = Path("/proc/self/fd") if Path("/proc/self/fd").exists() else Path("/dev/fd")
    return len(os.listdir(own))


def test_whole_clips_play(tmp_path: Path, clips: list[bytes]) -> None:
    """The damage is what is refused, not the clips it is made from."""
    paths = []
    for k, data in enumerate(clips):
        paths.append(tmp_path / f"{k}.bin")
        paths[-1].write_bytes(data)
    answers = run_limited(
        "tests.analysis.adapters.fuzz_targets:look_at_all", {"paths": [str(p) for p in paths]}, limits=LIMITS
    )
    assert [a.get("frames") for a in answers] == [30, 30, 30]


def test_damage_is_the_same_each_time(clips: list[bytes]) -> None:
    assert [damaged(k, clips) for k in range(30)] == [damaged(k, clips) for k in range(30)]
    assert {damaged(k, clips)[0] for k in range(len(KINDS))} == set(KINDS)


def test_damaged_clips_end_in_a_sentence(
    tmp_path: Path, clips: list[bytes], monkeypatch: pytest.MonkeyPatch
) -> None:
    room = tmp_path / "tmp"
    room.mkdir()
    monkeypatch.setenv("TMPDIR", str(room))
    paths = written(tmp_path, range(SHARE), clips)
    before = open_files()
    answers = run_limited(
        "tests.analysis.adapters.fuzz_targets:look_at_all", {"paths": [str(p) for p in paths]}, limits=LIMITS
    )
    assert [(p.name, a["mistake"]) for p, a in zip(paths, answers, strict=True) if "mistake" in a] == []
    assert all(a["sentence"].endswith(".") for a in answers if a["code"] != "plays")
    codes = Counter(a["code"] for a in answers)
    assert len(codes) >= 4, codes
    assert codes["plays"] < SHARE / 2, codes
    assert os.listdir(room) == []
    assert open_files() == before


def test_the_check_of_an_upload_refuses_each_kind_of_damage(tmp_path: Path, clips: list[bytes]) -> None:
    """One child a file, as the site does it."""
    before = open_files()
    answers = [checked(path) for path in written(tmp_path, range(SINGLE), clips)]
    assert {answer[0] for answer in answers} <= {"refused", "plays"}, answers
    assert all(answer[1].endswith(".") for answer in answers)
    assert open_files() == before


def checked(path: Path) -> tuple[str, str]:
    """How the check of an upload ends, and its sentence."""
    try:
        run_limited("analysis.adapters.rendition:check_clip", {"path": str(path)}, limits=LIMITS)
    except ChildError as error:
        return error.kind, error.sentence
    return "plays", "It plays."
