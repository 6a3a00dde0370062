"""The cause map: from a student's idea, set-up or body to what the club does and where the ball goes.

Possible causes, ranked by coaches' practice, never findings: almost every edge is graded C.
"""

from __future__ import annotations

from analysis.causes.graph import CauseMap, Edge, Idea, Node, check, in_causal_order
from analysis.causes.store import cause_map

__all__ = ["CauseMap", "Edge", "Idea", "Node", "cause_map", "check", "in_causal_order"]
