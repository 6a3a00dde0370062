"""Where things lie."""

from __future__ import annotations

import os
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
VENV = ROOT / ".venv"
SCRIPT_TOOLS_LIST = Path(__file__).resolve().parent / "js"


def var_dir() -> Path:
    return Path(os.environ.get("COACHHUB_VAR") or ROOT / "var").resolve()


def setup_log() -> Path:
    return ROOT / "var" / "log" / "setup.log"


def script_tools() -> Path:
    """Folder that holds node_modules of the checks (type checker, accessibility rules)."""
    return ROOT / "var" / "js"


def cores() -> int:
    """Cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def switched_off(name: str) -> bool:
    return os.environ.get(name, "").strip().lower() in {"0", "off", "no", "false"}
