"""How many threads the work may use: stated once, never taken.

The engine has threads of its own: one decodes ahead, one finds poses, one looks for the club. So the libraries for
pictures and arithmetic get one thread each: more of them wait for each other, and waiting costs processor time.
"""

from __future__ import annotations

import os
import sys

# What the arithmetic, matrix and picture libraries read when they are loaded.
VARIABLES = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "OPENCV_FOR_THREADS_NUM")
STATED = "ANALYSIS_THREADS"


def state_threads(count: int) -> None:
    """Tell this process how many threads it has, and its libraries to keep to one; best before they are loaded.

    Parameters
    ----------
    count : int
        1 to 64.

    Raises
    ------
    ValueError
        If `count` is out of range.
    """
    if not 1 <= count <= 64:
        raise ValueError(f"count must be within 1..64, got {count}")
    os.environ[STATED] = str(count)
    for name in VARIABLES:
        os.environ[name] = "1"
    calm_libraries()


def calm_libraries() -> None:
    """Keep the picture library to the thread that calls it, if it is loaded."""
    if "cv2" in sys.modules:
        sys.modules["cv2"].setNumThreads(1)


def given_threads() -> int:
    """What was stated, by `state_threads` or the variable ANALYSIS_THREADS; else the cores this process may use."""
    words = os.environ.get(STATED, "")
    if words.isdigit() and 1 <= int(words) <= 64:
        return int(words)
    return min(64, len(cores()))


def cores() -> list[int]:
    """Numbers of the processor cores this process may run on."""
    if hasattr(os, "sched_getaffinity"):
        return sorted(os.sched_getaffinity(0))
    return list(range(os.cpu_count() or 1))


def keep_to_cores(count: int, turn: int) -> None:
    """Run on ``count`` of the allowed cores only, where the system knows how; all threads to come are bound as well.

    Parameters
    ----------
    count : int
        At least 1; nothing happens if no more cores are allowed anyway.
    turn : int
        Which group of cores; neighbouring numbers, such as those of processes started one after the other, get
        different groups as long as there are any.
    """
    allowed = cores()
    if count >= len(allowed) or not hasattr(os, "sched_setaffinity"):
        return
    groups = len(allowed) // count
    first = (turn % groups) * count
    os.sched_setaffinity(0, allowed[first : first + count])
