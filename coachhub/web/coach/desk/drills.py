"""What the desk shows of the drills that may be offered."""

from __future__ import annotations

from coachhub.feedback.domain.library import Suggestions


def drill_facts(suggestions: Suggestions) -> dict[str, dict[str, str]]:
    """What the page shows beside the offered drills."""
    return {
        str(offer.drill.public_id): {
            "cue": offer.drill.cue,
            "dose": offer.drill.dose,
            "how": offer.drill.how,
            "stop": offer.drill.stop_rule,
            "caution": offer.caution,
        }
        for offer in suggestions.offered
    }
