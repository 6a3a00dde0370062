"""Days and numbers as the reader's language writes them: "Tue 9 June" is "Di 9. Juni", "2.5" is "2,5"."""

from __future__ import annotations

import calendar
import re
from datetime import date

from django.utils.dateformat import format as formatted
from django.utils.formats import get_format
from django.utils.translation import get_language

MONTHS = {
    name: (number, letter)
    for names, letter in ((calendar.month_abbr, "M"), (calendar.month_name, "F"))
    for number, name in enumerate(names)
    if name
}
WEEKDAYS = {
    name: (number, letter)
    for names, letter in ((calendar.day_abbr, "D"), (calendar.day_name, "l"))
    for number, name in enumerate(names)
}
DAY = re.compile(
    rf"\b(?:(?P<weekday>{'|'.join(WEEKDAYS)}) )?(?P<day>[1-9]|[12]\d|3[01]) "
    rf"(?P<month>{'|'.join(sorted(MONTHS, key=len, reverse=True))})\b"
)
DECIMAL = re.compile(r"(?<![\w.,/:-])([−-]?\d+)\.(\d+)(?![\w.]|\.\d)")
ASKED = re.compile(r"(?:(?P<weekday>[Dl]) )?j (?P<month>[FM])")
A_MONDAY = date(2001, 1, 1)


def local_format(asked: str) -> str:
    """The form that is asked for, "D j M", in the reader's order; as it stands in English."""
    if (get_language() or "en").startswith("en"):
        return asked
    return ASKED.sub(lambda found: _form(found["weekday"] or "", found["month"]), asked)


def say_days(text: str) -> str:
    """Days in a finished sentence, and the decimals of its numbers."""
    said = DAY.sub(_said_day, text)
    comma = str(get_format("DECIMAL_SEPARATOR"))
    return said if comma == "." else DECIMAL.sub(rf"\1{comma}\2", said)


def _said_day(found: re.Match[str]) -> str:
    number, letter = MONTHS[found["month"]]
    weekday, kind = WEEKDAYS[found["weekday"]] if found["weekday"] else (0, "")
    words = formatted(date(2000, number, int(found["day"])), _form("", letter))
    before = (
        formatted(A_MONDAY.replace(day=1 + weekday), _form(kind, letter).partition("j")[0]) if kind else ""
    )
    return before + words


def _form(weekday: str, month: str) -> str:
    """Day and month in the language's own order; a weekday in full is set off by a comma."""
    day = str(get_format("MONTH_DAY_FORMAT")).replace("F", month)
    return {"": "", "D": "D ", "l": "l, "}[weekday] + day
