"""A coach's own wordings that come back: offered where they were written, most used first."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable

from coachhub.accounts.models import User
from coachhub.feedback.enums import ReviewState
from coachhub.feedback.models import Review

LINES = ("keep", "priority", "cue", "dose")
WORDS = "words"
# How far back it looks, what counts as coming back, and how many are within reach.
LATEST, OFTEN, MOST = 200, 2, 12
SHORTEST = 12
_SENTENCE = re.compile(r"(?<=[.!?])\s+|\n+")


def phrases_of(coach: User) -> dict[str, list[str]]:
    """By field of the answer: the lines, and the sentences of the free words, that stood in several of the coach's
    published answers. What names one of these students is left out."""
    answers = list(
        Review.objects.filter(published_by=coach, state=ReviewState.PUBLISHED)
        .order_by("-published_at")
        .values(*LINES, WORDS, "submission__student__name")[:LATEST]
    )
    names = {part for answer in answers for part in _parts(answer["submission__student__name"])}
    found = {field: _often((_once(answer[field]) for answer in answers), names) for field in LINES}
    found[WORDS] = _often((_sentences(answer[WORDS]) for answer in answers), names)
    return {field: texts for field, texts in found.items() if texts}


def _once(text: str) -> set[str]:
    return {text.strip()} - {""}


def _sentences(text: str) -> set[str]:
    return {part for part in map(str.strip, _SENTENCE.split(text)) if len(part) >= SHORTEST}


def _parts(text: str) -> set[str]:
    return {part.casefold() for part in re.findall(r"\w{2,}", text)}


def _often(said: Iterable[set[str]], names: set[str]) -> list[str]:
    counts = Counter(text for texts in said for text in texts)
    fit = [(-n, text) for text, n in counts.items() if n >= OFTEN and not _parts(text) & names]
    return [text for _, text in sorted(fit)[:MOST]]
