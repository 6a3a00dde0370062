"""CSV that a spreadsheet opens as text and numbers, never as a formula."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from datetime import date, datetime

# What spreadsheets take for the beginning of a formula; OWASP, "CSV Injection". The full-width forms count too.
DANGEROUS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


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
    return f"'{text}" if text.lstrip(" ").startswith(DANGEROUS) or text.startswith(DANGEROUS) else text


def to_csv(heading: Sequence[str], rows: Iterable[Sequence[object]]) -> bytes:
    """UTF-8 with the mark that older spreadsheets need to read it as such."""
    out = io.StringIO()
    writer = csv.writer(out, quoting=csv.QUOTE_ALL, lineterminator="\r\n")
    writer.writerow([safe_cell(cell) for cell in heading])
    writer.writerows([safe_cell(cell) for cell in row] for row in rows)
    return out.getvalue().encode("utf-8-sig")
