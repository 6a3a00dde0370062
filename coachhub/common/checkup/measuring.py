from __future__ import annotations

import errno
import socket
from collections.abc import Callable

from analysis.adapters import digests
from analysis.adapters.sandbox import ChildError, Limits, protections, run_limited
from coachhub.common.checkup.answer import Answer, Check, missing, off, ok

LIMITS = Limits(cpu_s=20, memory_bytes=400_000_000, file_bytes=1_000_000, wall_s=20)
PROBE = "coachhub.common.checkup.measuring:try_network"


def models() -> Answer:
    for name in digests.SHA256:
        try:
            digests.checked_model(name)
        except ValueError as error:
            return missing("models", str(error), "git checkout -- analysis/adapters/models")
    return ok("models", ", ".join(f"{name} ({value[:8]})" for name, value in digests.SHA256.items()))


def sandbox() -> Answer:
    """Really start a limited child and let it try the network."""
    try:
        reached = run_limited(PROBE, {}, limits=LIMITS)
    except ChildError as error:
        return missing(
            "sandbox", f"clips can't be opened safely: {error.detail or error}", "see the worker's log"
        )
    lacking = [name for name, given in protections().items() if not given]
    if reached and "no_network" not in lacking:
        return missing(
            "sandbox", "a limited child could open a network socket", "don't take uploads; report it"
        )
    if lacking:
        words = ", ".join(name.replace("_", " ") for name in lacking)
        return off(
            "sandbox", f"this system can't give: {words}", "run workers on Linux (x86-64 or arm64) in earnest"
        )
    return ok("sandbox", "a limited child was refused a network socket, as it should be")


def try_network(report: Callable[[str, int], None]) -> bool:
    """Whether an internet socket could be opened. Runs in the child; nothing is sent."""
    try:
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM).close()
    except OSError as error:
        if error.errno != errno.EPERM:
            raise
        return False
    return True


CHECKS: tuple[Check, ...] = (models, sandbox)
