"""The patterns: which metrics speak for them, from where to where, in which view.

Thresholds are triage flags, not verdicts: no study gives a validated cut-off for one phone. Each term
names its source and grade (S, S2: a source was read; M: from memory; C: common practice, no study; K:
computed on rendered swings). A term begins to speak at ``grey[0]`` and is plain at ``grey[1]``.
"""

from __future__ import annotations

from dataclasses import dataclass

from analysis.types import DOWN_THE_LINE, FACE_ON

TRADE = "common practice, no study"
RENDERED = "set between clean and faulty rendered swings"
Grey = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Term:
    """One piece of evidence; ``needed`` terms must be measured, others help where they are."""

    metric: str
    grey: Grey
    weight: float
    source: str
    grade: str
    needed: bool = False


@dataclass(frozen=True, slots=True)
class SignRule:
    """A pattern in one view.

    ``frames`` are the events to look at. Under ``least_fps`` frames a second (of real time) it can't be
    told. ``limits`` says in a sentence what this view can't show of it.
    """

    key: str
    title: str
    view: str
    terms: tuple[Term, ...]
    frames: tuple[str, ...]
    limits: str
    least_fps: float = 25.0
    caution: str = ""


BACK_CAUTION = (
    "If there is any back pain, no drill: a clinician comes first. "
    "This is a pattern in a picture, no diagnosis."
)
# The errors of the numbers grow by themselves with the time between frames; this says so to people.
SLOW_FILM = "At 30 frames a second its numbers are half as sure as at 60."

RULES: tuple[SignRule, ...] = (
    SignRule(
        "early_release",
        "Early release",
        FACE_ON,
        (
            Term(
                "arm_shaft_lead_arm_parallel_down",
                (98.0, 116.0),
                0.5,
                "trade 105-110 deg; " + RENDERED,
                "C/K",
                True,
            ),
            # A club that was never set has a wide angle too, but nothing to release.
            Term("arm_shaft_opened_early", (30.0, 50.0), 1.0, RENDERED, "K", True),
        ),
        ("top", "lead_arm_parallel_down", "delivery_shaft_parallel"),
        "The picture shows the arm-shaft angle's projection, up to 6 degrees off. " + SLOW_FILM,
    ),
    SignRule(
        "stalled_finish",
        "Stalled finish",
        FACE_ON,
        (
            Term("knee_gap_finish", (74.0, 88.0), 1.0, RENDERED, "K", True),
            Term("hips_past_lead_ankle_finish", (-18.0, -28.0), 0.5, RENDERED, "K"),
            Term("hip_width_finish", (5.0, 45.0), 0.5, RENDERED, "K"),
            Term(
                "trail_heel_lift_finish",
                (3.0, 1.0),
                0.4,
                "trail heel still down at the finish: " + TRADE,
                "C",
            ),
        ),
        ("impact", "finish"),
        "The body's turn is no number from one phone: knees, hips and heel stand for it.",
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
        ("impact", "finish"),
        "From here only the trail heel shows it; the face-on view tells more.",
    ),
    SignRule(
        "steep_plane",
        "Steep plane",
        DOWN_THE_LINE,
        # How deep the hands are at the top differs more between builds than with the plane: it has no say.
        (Term("shaft_over_address_line", (4.0, 9.0), 1.0, "trade 10-15 deg; " + RENDERED, "C/K", True),),
        ("lead_arm_parallel_down", "delivery_shaft_parallel"),
        "Holds from lead arm parallel until the shaft points at the camera. A camera off the line moves it by "
        "about 0.7 degrees each; what is seen of that is taken out, the rest widens the error. " + SLOW_FILM,
    ),
    SignRule(
        "over_the_top",
        "Over the top",
        DOWN_THE_LINE,
        (Term("hand_path_out", (3.0, 5.0), 1.0, "3-5 % of stature outside: " + TRADE, "C", True),),
        ("lead_arm_parallel_back", "top", "lead_arm_parallel_down"),
        "The hands' path as this camera sees it; a camera off the hand line moves it.",
    ),
    SignRule(
        "reverse_spine_tilt",
        "Reverse spine tilt",
        FACE_ON,
        (
            Term(
                "trunk_tilt_top",
                # In its middle the trunk stands upright: any lean toward the target is a reversed one.
                (-3.0, 3.0),
                1.0,
                "trade: 5 deg or more toward the target at the top; " + RENDERED,
                "C/K",
                True,
            ),
        ),
        ("address", "top"),
        "The line between the middles of hips and shoulders as seen from the front, not the spine itself.",
        caution=BACK_CAUTION,
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
        ("lead_arm_parallel_back", "top"),
        "Needs the shaft to be seen at the top.",
    ),
    SignRule(
        "overlong_backswing",
        "Overlong backswing",
        DOWN_THE_LINE,
        (Term("head_below_hands_top", (0.0, 10.0), 1.0, RENDERED, "K", True),),
        ("top",),
        "Past level the club hides behind the golfer: its place at the top is then bridged from the frames "
        "before and after, or it can't be told. Face-on tells more.",
    ),
    SignRule(
        "poor_hinge",
        "Poor hinge",
        FACE_ON,
        (
            Term(
                "arm_shaft_top",
                (92.0, 112.0),
                1.0,
                "trade: above 115 deg at the top; " + RENDERED,
                "C/K",
                True,
            ),
            Term("arm_shaft_lead_arm_parallel_back", (125.0, 145.0), 0.6, RENDERED, "K"),
        ),
        ("lead_arm_parallel_back", "top"),
        "The picture shows the arm-shaft angle's projection.",
    ),
    SignRule(
        "sway",
        "Sway",
        FACE_ON,
        (Term("pelvis_shift_top", (-14.0, -22.0), 1.0, "15 % of the ankle spacing: " + TRADE, "C", True),),
        ("address", "top"),
        "Hips as the pose model sees them: in a turned pelvis their middle moves without a sway.",
    ),
    SignRule(
        "slide",
        "Slide",
        FACE_ON,
        (Term("pelvis_shift_impact", (26.0, 40.0), 1.0, "15 cm, a third of a stance: " + TRADE, "C", True),),
        ("address", "impact"),
        "Hips as the pose model sees them, not pressure under the feet.",
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
            Term("mass_between_feet_impact", (54.0, 46.0), 0.6, RENDERED, "K"),
        ),
        ("address", "impact"),
        "The place of hips and mass, not pressure under the feet.",
    ),
    SignRule(
        "early_extension",
        "Early extension",
        DOWN_THE_LINE,
        (
            Term("pelvis_to_ball_impact", (2.4, 4.0), 1.0, "5 cm toward the ball: " + TRADE, "C", True),
            Term("trunk_bend_loss", (5.0, 12.0), 0.6, "more than 12 deg lost: " + TRADE, "C"),
        ),
        ("address", "impact"),
        "The camera must stand on the hand line; a turning pelvis reads a little toward the ball.",
    ),
    SignRule(
        "lead_arm_collapse",
        "Lead arm collapse",
        FACE_ON,
        (
            # With its sense: errors of a straight arm cancel, those of the plain angle all look like a bend.
            Term("lead_elbow_fold_after_impact", (5.0, 13.0), 1.0, RENDERED, "K", True),
            Term(
                "lead_elbow_after_impact",
                (173.0, 161.0),
                0.4,
                "trade: below 145 deg; " + RENDERED,
                "C/K",
            ),
            # A change within 0.05 s: what the pose model gets wrong on this body is in both numbers and drops out.
            Term(
                "lead_elbow_loss",
                (0.0, 14.0),
                0.9,
                "trade: a loss of more than 20 deg; " + RENDERED,
                "C/K",
            ),
        ),
        ("impact", "shaft_parallel_through"),
        "The elbow in the picture: a bend toward or away from the camera is not seen. The time looked at is "
        "one frame long at 30 frames a second. " + SLOW_FILM,
    ),
)

KEYS: tuple[str, ...] = tuple(dict.fromkeys(rule.key for rule in RULES))
