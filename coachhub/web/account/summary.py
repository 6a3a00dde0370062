"""An intake as label and words, for whoever may read it."""

from __future__ import annotations

from collections.abc import Iterator

from django.db.models import TextChoices

from coachhub.accounts.enums import PainSite, RedFlag
from coachhub.accounts.models import Intake
from coachhub.videos.enums import Intent, MissCurve, MissHeight, MissStart, MissStrike


def summary_of(intake: Intake) -> list[tuple[str, str]]:
    return [(label, words) for label, words in _lines(intake) if words]


def _lines(intake: Intake) -> Iterator[tuple[str, str]]:
    yield "Age", intake.get_age_band_display()
    yield "Swings", intake.get_handedness_display()
    yield "Plays", intake.get_level_display()
    yield "Films with", intake.clubs
    yield "Usual miss", _miss(intake)
    yield "Tries to", _labels(intake.intents, Intent)
    yield "In own words", intake.intent_words
    yield "Wants", intake.goals
    yield "Practice", f"{intake.practice_hours} hours a week"
    yield "Pain", intake.get_pain_display()
    yield "Where", _labels(intake.pain_sites, PainSite)
    yield "About it", intake.pain_words
    yield "Pain alerts", _labels(intake.red_flags, RedFlag)


def _miss(intake: Intake) -> str:
    said = (
        (intake.miss_start, MissStart),
        (intake.miss_curve, MissCurve),
        (intake.miss_strike, MissStrike),
        (intake.miss_height, MissHeight),
    )
    return ", ".join(str(kinds(value).label) for value, kinds in said if value in kinds.values)


def _labels(values: list[str], kinds: type[TextChoices]) -> str:
    known = dict(kinds.choices)
    return ", ".join(str(known[value]) for value in values if value in known)
