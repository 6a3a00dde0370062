"""The patterns: which metrics speak for them, from where to where, in which view.

Thresholds are triage flags, not verdicts: no study gives a validated cut-off for one phone. Each term
names its source and grade (S, S2: a source was read; M: from memory; C: common practice, no study; K:
computed on rendered swings). A term's support runs from 0 at ``grey[0]`` to 1 at ``grey[1]``.
"""

from __future__ import annotations

from dataclasses import dataclass

from analysis.types import DOWN_THE_LINE, FACE_ON

TRADE = "common practice, no study"
RENDERED = "set between clean and faulty rendered swings"


@dataclass(frozen=True, slots=True)
class Term:
    """One piece of evidence; ``needed`` terms must be measured, others help where they are."""

    metric: str
    grey: tuple[float, float]
    weight: float
    source: str
    grade: str
    needed: bool = False


@dataclass(frozen=True, slots=True)
class SignRule:
    """A pattern in one view."""

    key: str
    title: str
    view: str
    terms: tuple[Term, ...]
    caution: str = ""
    not_for_clubs: tuple[str, ...] = ()


BACK_CAUTION = (
    "If there is any back pain, no drill: a clinician comes first. "
    "This is a pattern in a picture, no diagnosis."
)

RULES: tuple[SignRule, ...] = (
    SignRule(
        "early_release",
        "Early release",
        FACE_ON,
        (
            Term(
                "arm_shaft_lead_arm_parallel_down",
                (100.0, 120.0),
                1.0,
                "trade 105-110 deg; " + RENDERED,
                "C/K",
                True,
            ),
            Term("arm_shaft_opened_early", (25.0, 50.0), 1.0, RENDERED, "K", True),
        ),
    ),
    SignRule(
        "stalled_finish",
        "Stalled finish",
        FACE_ON,
        (
            Term("hip_width_finish", (46.0, 62.0), 2.0, RENDERED, "K", True),
            Term(
                "trail_heel_lift_finish",
                (2.2, 1.0),
                1.0,
                "trail heel still down at the finish: " + TRADE,
                "C",
            ),
        ),
    ),
    SignRule(
        "stalled_finish",
        "Stalled finish",
        DOWN_THE_LINE,
        (
            Term(
                "trail_heel_lift_finish",
                (3.0, 1.0),
                1.0,
                "trail heel still down at the finish: " + TRADE,
                "C",
                True,
            ),
        ),
    ),
    SignRule(
        "steep_plane",
        "Steep plane",
        DOWN_THE_LINE,
        (Term("shaft_over_address_line", (5.0, 10.0), 1.0, "trade 10-15 deg; " + RENDERED, "C/K", True),),
    ),
    SignRule(
        "over_the_top",
        "Over the top",
        DOWN_THE_LINE,
        (Term("hand_path_out", (3.0, 5.0), 1.0, "3-5 % of stature outside: " + TRADE, "C", True),),
    ),
    SignRule(
        "reverse_spine_tilt",
        "Reverse spine tilt",
        FACE_ON,
        (
            Term(
                "trunk_tilt_top",
                (0.0, 5.0),
                1.0,
                "5 deg or more toward the target at the top: " + TRADE,
                "C",
                True,
            ),
        ),
        BACK_CAUTION,
    ),
    SignRule(
        "overlong_backswing",
        "Overlong backswing",
        FACE_ON,
        (
            Term(
                "shaft_past_parallel_top",
                (0.0, 8.0),
                1.0,
                "skilled: short of to level; " + RENDERED,
                "C/K",
                True,
            ),
        ),
    ),
    SignRule(
        "overlong_backswing",
        "Overlong backswing",
        DOWN_THE_LINE,
        (Term("head_below_hands_top", (2.0, 12.0), 1.0, RENDERED, "K", True),),
    ),
    SignRule(
        "poor_hinge",
        "Poor hinge",
        FACE_ON,
        (
            Term(
                "arm_shaft_top",
                (95.0, 112.0),
                1.0,
                "trade: above 115 deg at the top; " + RENDERED,
                "C/K",
                True,
            ),
        ),
    ),
    SignRule(
        "sway",
        "Sway",
        FACE_ON,
        (Term("pelvis_shift_top", (-14.0, -22.0), 1.0, "15 % of the ankle spacing: " + TRADE, "C", True),),
    ),
    SignRule(
        "slide",
        "Slide",
        FACE_ON,
        (Term("pelvis_shift_impact", (28.0, 42.0), 1.0, "15 cm, a third of a stance: " + TRADE, "C", True),),
    ),
    SignRule(
        "hanging_back",
        "Hanging back",
        FACE_ON,
        (
            Term(
                "pelvis_shift_impact",
                (9.0, 1.0),
                1.0,
                "mid-hip at or behind its address place: " + TRADE,
                "C",
                True,
            ),
            Term("mass_between_feet_impact", (52.0, 44.0), 1.0, RENDERED, "K"),
        ),
    ),
    SignRule(
        "early_extension",
        "Early extension",
        DOWN_THE_LINE,
        (
            Term("pelvis_to_ball_impact", (2.4, 4.0), 1.0, "5 cm toward the ball: " + TRADE, "C", True),
            Term("trunk_bend_loss", (5.0, 12.0), 1.0, "more than 12 deg lost: " + TRADE, "C"),
        ),
    ),
    SignRule(
        "lead_arm_collapse",
        "Lead arm collapse",
        FACE_ON,
        (
            Term(
                "lead_elbow_after_impact",
                (168.0, 156.0),
                2.0,
                "trade: below 145 deg; " + RENDERED,
                "C/K",
                True,
            ),
            Term(
                "lead_elbow_loss",
                (0.0, 16.0),
                1.0,
                "trade: a loss of more than 20 deg; " + RENDERED,
                "C/K",
                True,
            ),
        ),
    ),
)

KEYS: tuple[str, ...] = tuple(dict.fromkeys(rule.key for rule in RULES))
