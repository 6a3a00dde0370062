"""The numbers that the browser's time map is held against are those of the present one."""

from __future__ import annotations

import json

import pytest

from tests.js.timemap_cases import FILE, cases

pytestmark = pytest.mark.unit


def test_the_cases_on_file_are_what_the_time_map_says() -> None:
    known, fresh = json.loads(FILE.read_text("utf-8")), cases()
    assert len(known) == len(fresh)
    for old, new in zip(known, fresh, strict=True):
        assert old["first"] == new["first"] and old["second"] == new["second"]
        if new["map"] is None:
            assert old["map"] is None
            continue
        assert old["map"]["events"] == new["map"]["events"]
        assert old["map"]["left_out"] == new["map"]["left_out"]
        for name in ("to_second_us", "to_first_us"):
            assert old[name] == pytest.approx(new[name], abs=1e-3)
