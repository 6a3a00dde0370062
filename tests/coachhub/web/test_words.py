from __future__ import annotations

import pytest

from analysis.metrics.registry import ALL
from coachhub.swings.enums import SwingEvent
from coachhub.web.words import METRIC_GROUPS, chance, event_label, measure, metric_group, metric_label

pytestmark = pytest.mark.unit


@pytest.mark.parametrize(
    ("value", "se", "unit", "text"),
    [
        (142.3, 4.1, "deg", "142 ± 8°"),
        (-12.04, 0.5, "deg", "−12.0 ± 1.0°"),
        (2.71, 0.2, "1", "2.7 ± 0.4"),
        (0.8123, 0.01, "s", "0.81 ± 0.02 s"),
        (45.2, 30.0, "% of stance", "45 ± 59 % of stance"),
        (0.5, None, "s", "0.5 s"),
    ],
)
def test_a_number_shows_as_many_digits_as_its_noise_allows(
    value: float, se: float | None, unit: str, text: str
) -> None:
    assert measure(value, se, unit) == text


@pytest.mark.parametrize(
    ("p", "text"),
    [
        (None, ""),
        (0.01, "under 1 in 20"),
        (0.06, "about 1 in 10"),
        (0.86, "about 9 in 10"),
        (0.94, "about 9 in 10"),
        (0.97, "over 19 in 20"),
    ],
)
def test_chances_are_counts(p: float | None, text: str) -> None:
    assert chance(p) == text


def test_every_metric_and_event_has_words_and_a_place() -> None:
    for spec in ALL:
        assert metric_label(spec.name) == spec.title
        assert metric_group(spec.name) in METRIC_GROUPS[:-1]
    for event in SwingEvent:
        assert "_" not in event_label(event)
