"""The pinned lists: what they name, their digest, and what of them an interpreter lacks."""

from __future__ import annotations

import hashlib
import re
from importlib import metadata
from pathlib import Path

FOLDER = Path(__file__).resolve().parent
INSTALLER = FOLDER / "requirements-installer.txt"
RUN = FOLDER / "requirements.txt"
TEST = FOLDER / "requirements-test.txt"
PIN = re.compile(r"^([A-Za-z0-9][A-Za-z0-9._-]*)==([^\s;\\]+)", re.MULTILINE)


def digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def pins(path: Path) -> dict[str, str]:
    """Name to exact version."""
    return {name.lower(): version for name, version in PIN.findall(path.read_text("utf-8"))}


def lacking(path: Path) -> list[str]:
    """What the running interpreter lacks of a list: absent, or another version."""
    missing = []
    for name, version in pins(path).items():
        try:
            found = metadata.version(name)
        except metadata.PackageNotFoundError:
            found = ""
        if found != version:
            missing.append(f"{name}=={version}")
    return missing
