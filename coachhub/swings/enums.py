from __future__ import annotations

from django.db.models import TextChoices


class SignLevel(TextChoices):
    LIKELY = "likely", "likely"
    POSSIBLE = "possible", "possible"
    NOT_SEEN = "not_seen", "not seen"
    CANT_TELL = "cant_tell", "can't tell"


class Verdict(TextChoices):
    AGREE = "agree", "agree"
    NOT_THIS = "not_this", "not this"
    CANT_TELL = "cant_tell", "can't tell"


class SwingEvent(TextChoices):
    ADDRESS = "address", "address"
    TAKEAWAY = "takeaway", "takeaway"
    SHAFT_PARALLEL_BACK = "shaft_parallel_back", "shaft parallel, back"
    LEAD_ARM_PARALLEL_BACK = "lead_arm_parallel_back", "lead arm parallel, back"
    TOP = "top", "top"
    LEAD_ARM_PARALLEL_DOWN = "lead_arm_parallel_down", "lead arm parallel, down"
    DELIVERY = "delivery_shaft_parallel", "delivery: shaft parallel, down"
    IMPACT = "impact", "impact"
    SHAFT_PARALLEL_THROUGH = "shaft_parallel_through", "shaft parallel, through"
    FINISH = "finish", "finish"


class SignKey(TextChoices):
    """Patterns that the measuring looks for. Coaches may set each by hand too."""

    EARLY_RELEASE = "early_release", "early release"
    STALLED_FINISH = "stalled_finish", "stalled finish"
    STEEP_PLANE = "steep_plane", "steep plane"
    OVER_THE_TOP = "over_the_top", "over the top"
    REVERSE_SPINE_TILT = "reverse_spine_tilt", "reverse spine tilt"
    OVERLONG_BACKSWING = "overlong_backswing", "overlong backswing"
    POOR_HINGE = "poor_hinge", "poor hinge"
    SWAY = "sway", "sway"
    SLIDE = "slide", "slide"
    HANGING_BACK = "hanging_back", "hanging back"
    EARLY_EXTENSION = "early_extension", "early extension"
    LEAD_ARM_COLLAPSE = "lead_arm_collapse", "lead arm collapse"
