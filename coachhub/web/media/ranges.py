"""Parts of a file by the Range header: RFC 9110, section 14."""

from __future__ import annotations

import re
from dataclasses import dataclass

_ONE_RANGE = re.compile(r"bytes=(\d{0,18})-(\d{0,18})", re.ASCII)


class Unsatisfiable(ValueError):
    """The part asked for lies outside the file."""


@dataclass(frozen=True)
class Part:
    start: int
    end: int  # the last byte, included

    @property
    def length(self) -> int:
        return self.end - self.start + 1


def asked_part(header: str, size: int) -> Part | None:
    """The part of a file of ``size`` bytes, or None for all of it.

    Several ranges at once, other units and what can't be read are answered with the whole file, as the standard
    allows; a range that starts behind the end raises Unsatisfiable.
    """
    found = _ONE_RANGE.fullmatch(header.strip().replace(" ", ""))
    if found is None or not (found[1] or found[2]):
        return None
    if not found[1]:
        return _last(int(found[2]), size)
    start, end = int(found[1]), int(found[2]) if found[2] else size - 1
    if found[2] and end < start:
        return None
    if start >= size:
        raise Unsatisfiable(f"range must start below {size}, not at {start}")
    return Part(start, min(end, size - 1))


def _last(count: int, size: int) -> Part:
    if count == 0 or size == 0:
        raise Unsatisfiable("a suffix range must ask for at least one byte")
    return Part(max(0, size - count), size - 1)
