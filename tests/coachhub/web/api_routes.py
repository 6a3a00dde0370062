"""Rows of the API for the permission table: to a browser that is signed in it gives nothing at all, it wants a key.

Who gets what with a key stands in ``api/test_api.py``.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from tests.coachhub.web.scene import Scene

PLAIN = ("me", "camps", "submissions", "threads")
OF_ONE: dict[str, Callable[[Scene], dict[str, Any]]] = {
    "cohorts": lambda scene: {"camp_id": scene.cast.camp.public_id},
    "figures": lambda scene: {"cohort_id": scene.cast.cohort.public_id},
    "submission": lambda scene: {"submission_id": scene.answered.public_id},
    "answer": lambda scene: {"submission_id": scene.answered.public_id},
    "swing": lambda scene: {"swing_id": scene.swing.public_id},
    "readout": lambda scene: {"swing_id": scene.swing.public_id},
}
THREAD: Callable[[Scene], dict[str, Any]] = lambda scene: {"thread_id": scene.thread.public_id}  # noqa: E731
