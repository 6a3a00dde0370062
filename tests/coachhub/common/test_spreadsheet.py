"""Cells that spreadsheets would run: the list of first characters is OWASP's, "CSV Injection"."""

from __future__ import annotations

import csv
import io
from datetime import UTC, date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coachhub.common.spreadsheet import safe_cell, to_csv

pytestmark = pytest.mark.unit


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠", "  ="])
def test_text_that_looks_like_a_formula_is_made_text(start: str) -> None:
    assert safe_cell(f"{start}HYPERLINK(1)") == f"'{start}HYPERLINK(1)"


@pytest.mark.parametrize(
    ("value", "cell"),
    [
        (-3, "-3"),
        (2.5, "2.5"),
        (None, ""),
        ("Ada - Nørgård", "Ada - Nørgård"),
        ("a=b", "a=b"),
        (date(2026, 6, 1), "2026-06-01"),
        (datetime(2026, 6, 1, 9, 30, 15, tzinfo=UTC), "2026-06-01 09:30+00:00"),
    ],
)
def test_everything_else_stays(value: object, cell: str) -> None:
    assert safe_cell(value) == cell


@given(st.lists(st.text(max_size=30), min_size=2, max_size=2))
def test_a_reader_gets_back_what_was_written(row: list[str]) -> None:
    raw = to_csv(("a", "b"), [row])
    assert raw.startswith(b"\xef\xbb\xbf")
    read = list(csv.reader(io.StringIO(raw.decode("utf-8-sig"), newline="")))
    assert read[0] == ["a", "b"]
    assert [
        cell.removeprefix("'") if cell != own else cell for cell, own in zip(read[1], row, strict=True)
    ] == row
    assert not any(cell.startswith(("=", "+", "-", "@")) for cell in read[1])
