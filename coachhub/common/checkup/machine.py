from __future__ import annotations

import shutil
import sys
from pathlib import Path

from django.conf import settings

from coachhub.bootstrap import debian, environment, layout, pins, scripts
from coachhub.common.checkup.answer import Answer, Check, missing, off, ok

ROOM_BYTES = 5_000_000_000
LEAST_BYTES = 500_000_000


def python() -> Answer:
    version = ".".join(map(str, sys.version_info[:3]))
    return ok("Python", f"{version} in {sys.prefix}")


def libraries() -> Answer:
    lacking = pins.lacking(pins.RUN)
    count = len(pins.pins(pins.RUN))
    if lacking:
        return missing(
            "libraries",
            f"{len(lacking)} of {count} differ: {', '.join(lacking[:5])}",
            "delete .venv, then python3 manage.py demo",
        )
    stamped = Path(sys.prefix).resolve() == layout.VENV.resolve() and environment.ready(pins.RUN)
    return ok("libraries", f"all {count} as pinned" + ("" if stamped else ", in an environment of your own"))


def test_libraries() -> Answer:
    lacking = pins.lacking(pins.TEST)
    if lacking:
        return off(
            "test libraries", f"{len(lacking)} are not installed", "python3 manage.py test installs them"
        )
    return ok("test libraries", f"all {len(pins.pins(pins.TEST))} as pinned")


def script_runtime() -> Answer:
    found = scripts.node()
    if found is None:
        return off(
            "JavaScript runtime", "not installed, only the checks use it", "python3 manage.py check_all"
        )
    return ok("JavaScript runtime", "present; the browser modules can be checked")


def disk() -> Answer:
    free = shutil.disk_usage(settings.VAR_DIR).free
    text = f"{free / 1e9:.1f} GB free for {settings.VAR_DIR}"
    if free < LEAST_BYTES:
        return missing(
            "disk", f"{text}: uploads will be refused", "free some space, or point COACHHUB_VAR elsewhere"
        )
    if free < ROOM_BYTES:
        return off(
            "disk",
            f"{text}: room for about {free // 50_000_000} clips",
            "free some space before a camp starts",
        )
    return ok("disk", text)


def system(need: debian.Need, for_tests: bool) -> Check:
    def check() -> Answer:
        if need.present():
            return ok(need.package, f"present, for {need.feature}")
        say = off if for_tests else missing
        return say(need.package, f"not installed, so {need.feature} is off", debian.how_to_mend(need))

    return check


CHECKS: tuple[Check, ...] = (
    python,
    libraries,
    test_libraries,
    script_runtime,
    disk,
    *(system(need, for_tests=False) for need in debian.RUN_NEEDS),
    *(system(need, for_tests=True) for need in debian.TEST_NEEDS),
)
