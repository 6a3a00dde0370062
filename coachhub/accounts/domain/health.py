"""What to say to somebody who ticked a pain alert. Words only: nobody is diagnosed, nothing ticked is ever cleared.

The list of pain alerts is general medical consensus, written from memory (grade M); no study of golfers.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from coachhub.accounts.enums import URGENT_FLAGS, RedFlag


@dataclass(frozen=True)
class Advice:
    urgent: bool
    title: str
    sentences: tuple[str, ...]
    ticked: tuple[str, ...]


URGENT = (
    "What you ticked can be an emergency. If you have it now, call your emergency number or go to a hospital today.",
    "Don't swing a club until a clinician has seen you.",
)
SOON = (
    "Please have a doctor or physiotherapist look at this before you practise or film any more swings.",
    "If it gets worse quickly, don't wait for an appointment.",
)
BOTH = (
    "Your coach sees what you ticked and will not suggest drills against it. A coach can't tell what it is.",
)


def advice_for(red_flags: Iterable[str]) -> Advice | None:
    """The advice for the ticked pain alerts, or None when none is ticked."""
    ticked = [flag for flag in RedFlag if flag in set(red_flags)]
    if not ticked:
        return None
    urgent = any(flag in URGENT_FLAGS for flag in ticked)
    return Advice(
        urgent=urgent,
        title="Get medical help now" if urgent else "See a clinician first",
        sentences=(URGENT if urgent else SOON) + BOTH,
        ticked=tuple(str(flag.label) for flag in ticked),
    )
