"""The cause map: from a student's idea, set-up or body to what the club does and where the ball goes.

Possible causes, ranked by coaches' practice, never findings: almost every edge is graded C.
"""

from __future__ import annotations

from analysis.causes.case import Case, Miss, SeenSign
from analysis.causes.graph import CauseMap, Edge, Idea, Node, check, in_causal_order
from analysis.causes.questions import Question
from analysis.causes.rank import Contribution, Ranking, Root, rank
from analysis.causes.store import cause_map

__all__ = [
    "Case",
    "CauseMap",
    "Contribution",
    "Edge",
    "Idea",
    "Miss",
    "Node",
    "Question",
    "Ranking",
    "Root",
    "SeenSign",
    "cause_map",
    "check",
    "in_causal_order",
    "rank",
]
