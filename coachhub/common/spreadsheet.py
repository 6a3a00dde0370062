"""Tables that a spreadsheet opens as text, numbers and dates, never as a formula: rows in, CSV or XLSX out."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Sequence
from datetime import date, datetime
from typing import Any

# What spreadsheets take for the beginning of a formula; OWASP, "CSV Injection". The full-width forms count too.
DANGEROUS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
CSV, XLSX = "csv", "xlsx"
CONTENT_TYPES = {
    CSV: "text/csv; charset=utf-8",
    XLSX: "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}
# A cell's own limit (ECMA-376 and Microsoft's "Excel specifications and limits", from memory).
LONGEST_CELL = 32_767
WIDEST = 60

Rows = Iterable[Sequence[object]]


def looks_like_a_formula(text: str) -> bool:
    return text.startswith(DANGEROUS) or text.lstrip(" ").startswith(DANGEROUS)


def safe_cell(value: object) -> str:
    """``value`` as text. Numbers stay numbers, text that looks like a formula gets an apostrophe in front."""
    if value is None:
        return ""
    if isinstance(value, datetime):
        return value.isoformat(sep=" ", timespec="minutes")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, int | float):
        return str(value)
    text = str(value)
    return f"'{text}" if looks_like_a_formula(text) else text


def to_csv(heading: Sequence[str], rows: Rows) -> bytes:
    """UTF-8 with the mark that older spreadsheets need to read it as such."""
    out = io.StringIO()
    writer = csv.writer(out, quoting=csv.QUOTE_ALL, lineterminator="\r\n")
    writer.writerow([safe_cell(cell) for cell in heading])
    writer.writerows([safe_cell(cell) for cell in row] for row in rows)
    return out.getvalue().encode("utf-8-sig")


def to_xlsx(heading: Sequence[str], rows: Rows) -> bytes:
    """Numbers as numbers, dates as dates, a heading that stays in sight; a time is that of its own zone."""
    from openpyxl import Workbook
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    book = Workbook()
    sheet = book.active
    for number, row in enumerate((heading, *rows), start=1):
        for column, value in enumerate(row, start=1):
            _write(sheet.cell(number, column), value)
    for column, words in enumerate(heading, start=1):
        sheet.cell(1, column).font = Font(bold=True)
        longest = max(len(str(cell.value or "")) for cell in sheet[get_column_letter(column)])
        sheet.column_dimensions[get_column_letter(column)].width = min(WIDEST, max(longest, len(words)) + 2)
    sheet.freeze_panes = "A2"
    sheet.auto_filter.ref = sheet.dimensions
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _write(cell: Any, value: object) -> None:
    if value is None or value == "":
        return
    if isinstance(value, datetime):
        # The format knows no zones: what is written is the clock on the camp's wall.
        cell.value = value.replace(tzinfo=None, second=0, microsecond=0)
        cell.number_format = "yyyy-mm-dd hh:mm"
    elif isinstance(value, date):
        cell.value = value
        cell.number_format = "yyyy-mm-dd"
    elif isinstance(value, int | float):
        cell.value = value
    else:
        _write_text(cell, str(value))


def _write_text(cell: Any, text: str) -> None:
    from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

    cell.value = ILLEGAL_CHARACTERS_RE.sub("", text)[:LONGEST_CELL]
    # The library takes "=" for a formula, and "#N/A" for an error.
    cell.data_type = "s"
    if looks_like_a_formula(text):
        # ... and a spreadsheet would, once somebody has edited the cell.
        cell.quotePrefix = True


WRITERS: dict[str, Callable[[Sequence[str], Rows], bytes]] = {CSV: to_csv, XLSX: to_xlsx}
