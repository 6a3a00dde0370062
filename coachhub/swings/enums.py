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
    DELIVERY = "delivery", "delivery"
    IMPACT = "impact", "impact"
    SHAFT_PARALLEL_THROUGH = "shaft_parallel_through", "shaft parallel, through"
    FINISH = "finish", "finish"
