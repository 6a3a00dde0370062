"""Bands that a camp sets in place of the shipped ones, within limits."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import isfinite
from typing import Any

from analysis.signs.rules import KEYS, RULES, Grey, Term

# How far a camp may move a zone's ends beyond the shipped ones, and how narrow it may make it, in widths of
# the shipped zone: farther out the sign would flag everybody or nobody.
REACH_WIDTHS = 1.5
NARROWEST_SHARE = 0.25


@dataclass(frozen=True, slots=True)
class Bands:
    """What a camp changed: grey zones by sign and metric, and signs that are not looked for.

    ``grey`` maps (sign key, metric name) to a zone in the metric's unit; ``off`` holds sign keys.
    """

    grey: Mapping[tuple[str, str], Grey] = field(default_factory=dict)
    off: frozenset[str] = frozenset()

    def of(self, key: str, term: Term) -> Grey:
        """The zone that holds for a term of a sign."""
        return self.grey.get((key, term.metric), term.grey)

    def touches(self, key: str) -> bool:
        """Whether anything about this sign differs from what is shipped."""
        return key in self.off or any(sign == key for sign, _ in self.grey)

    def to_json(self) -> dict[str, Any]:
        """``{sign: {"off": true}}`` or ``{sign: {"grey": {metric: [start, end]}}}``; nothing unchanged."""
        out: dict[str, Any] = {}
        for (key, metric), zone in sorted(self.grey.items()):
            out.setdefault(key, {}).setdefault("grey", {})[metric] = list(zone)
        for key in sorted(self.off):
            out.setdefault(key, {})["off"] = True
        return out

    @staticmethod
    def from_json(data: Mapping[str, Any]) -> Bands:
        """Back from ``to_json``, which may be of an older version.

        Left out: what is shipped, signs and metrics that are gone, and zones outside the limits of today.
        """
        terms = terms_by_name()
        grey: dict[tuple[str, str], Grey] = {}
        for key, change in data.items():
            for metric, (start, end) in change.get("grey", {}).items():
                term, zone = terms.get((key, metric)), (float(start), float(end))
                if term is not None and zone != term.grey and _allowed(term, zone):
                    grey[key, metric] = zone
        off = frozenset(key for key, change in data.items() if change.get("off") and key in KEYS)
        return Bands(grey, off)


SHIPPED = Bands()


def terms_by_name() -> dict[tuple[str, str], Term]:
    """Every term by its sign's key and its metric. One metric means one zone, also in two views."""
    return {(rule.key, term.metric): term for rule in RULES for term in rule.terms}


def limits(term: Term) -> tuple[float, float]:
    """Lowest and highest value that either end of a term's zone may take."""
    low, high = sorted(term.grey)
    reach = REACH_WIDTHS * (high - low)
    # Without the noise of floating point, which would be printed: -4e-16.
    return round(low - reach, 9), round(high + reach, 9)


def _allowed(term: Term, grey: Grey) -> bool:
    try:
        checked(term, grey)
    except ValueError:
        return False
    return True


def checked(term: Term, grey: Grey) -> Grey:
    """``grey`` if a camp may set it.

    Raises
    ------
    ValueError
        If an end lies outside the limits, the zone is turned round, or it is too narrow.
    """
    low, high = limits(term)
    if not all(isfinite(end) and low <= end <= high for end in grey):
        raise ValueError(
            f"{term.metric}: both ends must lie in {low:g}..{high:g}, got {grey[0]:g} and {grey[1]:g}"
        )
    shipped, wanted = term.grey[1] - term.grey[0], grey[1] - grey[0]
    if wanted * shipped <= 0:
        order = "below" if shipped > 0 else "above"
        raise ValueError(
            f"{term.metric}: the first end must lie {order} the second, got {grey[0]:g} and {grey[1]:g}"
        )
    narrowest = NARROWEST_SHARE * abs(shipped)
    if abs(wanted) < narrowest * (1 - 1e-9):
        raise ValueError(
            f"{term.metric}: the ends must lie at least {narrowest:g} apart, got {abs(wanted):g}"
        )
    return grey
