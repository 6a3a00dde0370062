"""What can be said about a machine before anything is installed."""

from __future__ import annotations

import shutil
import sys

from coachhub.bootstrap import debian, environment, layout, pins


def report() -> str:
    """Lines for `manage.py doctor` when the libraries aren't there yet."""
    version = ".".join(map(str, sys.version_info[:3]))
    free_gb = shutil.disk_usage(layout.ROOT).free / 1e9
    lines = [
        f"ok       Python {version}",
        _libraries(),
        f"{'ok      ' if free_gb > 2 else 'missing '} {free_gb:.1f} GB free on the disk (2 GB needed to set up)",
    ]
    for need in (*debian.RUN_NEEDS, *debian.TEST_NEEDS):
        state = "ok      " if need.present() else "missing "
        mend = "" if need.present() else f"; to mend it: {debian.how_to_mend(need)}"
        lines.append(f"{state} {need.package} for {need.feature}{mend}")
    lines.append("\nThe rest can be looked at after setting up: python3 manage.py demo")
    return "\n".join(lines)


def _libraries() -> str:
    count = len(pins.pins(pins.RUN))
    if environment.stamps():
        return f"missing  the list of {count} libraries has changed; python3 manage.py demo brings them up to date"
    return f"missing  the {count} libraries; python3 manage.py demo installs them"
