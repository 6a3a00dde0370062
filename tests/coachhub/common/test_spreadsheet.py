"""Cells that spreadsheets would run: the list of first characters is OWASP's, "CSV Injection"."""

from __future__ import annotations

import csv
import io
from datetime import UTC, date, datetime
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import load_workbook

from coachhub.common.spreadsheet import LONGEST_CELL, safe_cell, to_csv, to_xlsx

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


def cells(*values: object) -> list[Any]:
    heading = [f"column {number}" for number, _ in enumerate(values)]
    book = load_workbook(io.BytesIO(to_xlsx(heading, [values])))
    return list(book.active[2])


@pytest.mark.parametrize(
    "text", ["=1+1", "+1", "-1", "@x", "\t=1", "＝1", "  =1", '=HYPERLINK("http://x")', "#N/A"]
)
def test_in_a_workbook_text_is_text_whatever_it_begins_with(text: str) -> None:
    (cell,) = cells(text)
    assert (cell.value, cell.data_type) == (text, "s")
    # The quote that a spreadsheet keeps before what looks like a formula (ECMA-376, 18.8.45, quotePrefix).
    assert bool(cell.quotePrefix) is (text != "#N/A")


def test_in_a_workbook_numbers_and_dates_are_such() -> None:
    number, share, day, time, nothing = cells(
        -3, 2.5, date(2026, 6, 1), datetime(2026, 6, 1, 9, 30, 15, tzinfo=UTC), None
    )
    assert (number.value, number.data_type) == (-3, "n")
    assert share.value == 2.5
    assert day.is_date and day.value == datetime(2026, 6, 1) and day.number_format == "yyyy-mm-dd"
    assert time.is_date and time.value == datetime(2026, 6, 1, 9, 30)
    assert nothing.value is None


def test_what_a_workbook_cannot_hold_is_left_out_and_the_rest_stays() -> None:
    control, long = cells("a\x00b\x07c", "x" * (LONGEST_CELL + 5))
    assert control.value == "abc"
    assert len(long.value) == LONGEST_CELL
