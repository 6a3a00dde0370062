"""A student's course with numbers by their names."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from coachhub.progress.domain.course import NUMBER, Course, Day, Entry
from coachhub.web.words import metric_label


def in_words(course: Course, *, without: Collection[str] = ()) -> Course:
    """``without``: kinds of entries that this reader does not see."""
    days = [
        Day(day.day, day.week, tuple(_named(entry) for entry in day.entries if entry.kind not in without))
        for day in course.days
    ]
    strands = tuple(
        replace(strand, what=metric_label(strand.metric).capitalize()) if strand.metric else strand
        for strand in course.strands
        if not (strand.metric and NUMBER in without)
    )
    return Course(tuple(day for day in days if day.entries), strands)


def _named(entry: Entry) -> Entry:
    return replace(entry, title=metric_label(entry.metric).capitalize()) if entry.metric else entry
