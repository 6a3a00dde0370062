"""The bench's tables of signs: levels, chances and their reliability."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analysis.bench.labels import FULL_AMOUNT, TRACE_AMOUNT
from analysis.bench.reliability import bins, brier
from analysis.bench.score import ClipScore
from analysis.signs.evaluate import level_of
from analysis.signs.rules import KEYS
from analysis.types import CANT_TELL, LEVELS, LIKELY, POSSIBLE

_HEAD = (
    f"{'sign':20s} {'full':>4s} {'likely':>6s} {'poss.':>6s} {'not s.':>6s} {'unsure':>6s} {'median':>6s} "
    f"{'least':>6s}   {'clean':>5s} {'likely':>6s} {'poss.':>6s} {'p90':>6s} {'most':>6s}"
)

# Amounts are written with two decimals.
WHOLE = 0.995


def mark(good: bool) -> str:
    """The word for a bar that is met or missed."""
    return "meets" if good else "MISSES"


def sign_table(scores: Sequence[ClipScore]) -> str:
    """What became of the built-in faults, and of clean swings."""
    full = [s for s in scores if s.full]
    rows = [
        f"signs: own sign of clips with one built-in fault at amount {FULL_AMOUNT:g} or more;",
        "every sign that could be told of clean clips (columns: counts by level, then chances)",
        _HEAD,
    ]
    rows += [_sign_row(key, scores) for key in KEYS]
    whole = [s for s in full if s.amount >= WHOLE]
    hit, hit_whole = (sum(s.own_level == LIKELY for s in some) for some in (full, whole))
    if full:
        verdict = f" {mark(hit_whole >= 0.9 * len(whole))}" if whole else ""
        lesser = f"; with lesser amounts {hit}/{len(full)}" if len(whole) < len(full) else ""
        missed = ", ".join(_missed(s) for s in full if s.own_level != LIKELY) or "none"
        rows.append(
            f"likely in {hit_whole}/{len(whole)} at full amount (bar 90 %){verdict}{lesser}; not likely: {missed}"
        )
    clean = [s for s in scores if s.clean]
    wrong = {s.name: s.false_likely for s in clean if s.false_likely}
    rows.append(
        f"clean clips {len(clean)}, with a sign called likely: {len(wrong)} (bar 0) {mark(not wrong)} {wrong or ''}"
    )
    maybe = {s.name: found for s in clean if (found := [k for k, p in s.clean_p.items() if _is_possible(p)])}
    told = sum(len(s.clean_p) for s in clean)
    count = sum(map(len, maybe.values()))
    rows.append(
        f"clean clips with a sign called possible: {len(maybe)}, {count} of {told} signs {maybe or ''}"
    )
    other = {s.name: s.false_likely for s in scores if not s.clean and s.false_likely}
    rows.append(f"faulty clips with another sign called likely (no bar): {len(other)} {other or ''}")
    return "\n".join(row.rstrip() for row in rows)


def _is_possible(p: float) -> bool:
    return level_of(p) == POSSIBLE


def _missed(score: ClipScore) -> str:
    p = "" if score.own_p is None else f" {score.own_p:.2f}"
    return (
        f"{score.name} ({score.own_level}{p}{', ' + score.own_note if score.own_level == CANT_TELL else ''})"
    )


def _sign_row(key: str, scores: Sequence[ClipScore]) -> str:
    mine = [s for s in scores if s.full and s.own_sign == key]
    by_level = {level: sum(s.own_level == level for s in mine) for level in LEVELS}
    p = [s.own_p for s in mine if s.own_p is not None]
    told = f"{np.median(p):6.2f} {min(p):6.2f}" if p else f"{'-':>6s} {'-':>6s}"
    clean = [s.clean_p[key] for s in scores if key in s.clean_p]
    tail = f"{np.quantile(clean, 0.9):6.2f} {max(clean):6.2f}" if clean else f"{'-':>6s} {'-':>6s}"
    likely = sum(level_of(c) == LIKELY for c in clean)
    return (
        f"{key:20s} {len(mine):4d} {by_level['likely']:6d} {by_level['possible']:6d} {by_level['not_seen']:6d} "
        f"{by_level['cant_tell']:6d} {told}   {len(clean):5d} {likely:6d} {sum(map(_is_possible, clean)):6d} {tail}"
    )


def reliability_table(scores: Sequence[ClipScore]) -> str:
    """Chances of the signs against how often they are there, by bins."""
    judged = [(p, there) for s in scores for _, p, there in s.judged]
    if not judged:
        return ""
    rows = [
        "reliability of the signs' chances",
        f"there: own sign at amount {FULL_AMOUNT:g} or more; not there: own sign at {TRACE_AMOUNT:g} or less and every "
        "sign of a clean clip;",
        "left out: amounts between, and other signs of faulty clips (one fault drags others along)",
        f"{'chance':>12s} {'n':>5s} {'mean':>6s} {'there':>6s} {'share':>6s}  95 % interval of the share",
    ]
    for one in bins(judged):
        low, high = one.interval()
        inside = "holds the mean" if low <= one.mean_p <= high else "DOES NOT hold the mean"
        rows.append(
            f"{one.low:5.2f}..{one.high:4.2f}  {one.count:5d} {one.mean_p:6.3f} {one.there:6d} {one.share:6.3f}  "
            f"{low:.3f}..{high:.3f} {inside}"
        )
    there = sum(t for _, t in judged)
    rows.append(
        f"{len(judged)} judgements, {there} there; Brier score {brier(judged):.4f} (0.25 = knowing nothing; always "
        f"saying {there / len(judged):.2f} gives {there / len(judged) * (1 - there / len(judged)):.4f})"
    )
    return "\n".join(rows)
