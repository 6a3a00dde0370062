"""A thousand damaged clips: every one ends in an answer, and the parent holds nothing more than before."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.bench.fuzz import COUNT, LIMITS, fuzz

pytestmark = [pytest.mark.bench]

# What the interpreter itself may take meanwhile.
MOST_MORE_MB = 20


def test_a_thousand_damaged_clips(tmp_path: Path) -> None:
    report = fuzz(tmp_path)
    print(report.text())
    assert (report.mistakes, report.deaths, report.files) == ([], [], COUNT)
    assert report.descriptors[0] == report.descriptors[1]
    assert (report.left_in_tmp, report.zombies) == (0, 0)
    assert report.memory_mb[1] - report.memory_mb[0] < MOST_MORE_MB
    assert report.slowest_s < LIMITS.wall_s / 2
