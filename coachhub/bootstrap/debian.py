"""System packages: which feature needs which, what is missing, and getting it where that is allowed."""

from __future__ import annotations

import ctypes
import os
import shutil
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from glob import glob

from coachhub.bootstrap import failures, layout
from coachhub.bootstrap.progress import run_showing, say

SWITCH = "COACHHUB_SYSTEM_PACKAGES"
APT_ENV = {
    "DEBIAN_FRONTEND": "noninteractive",
    "RUNLEVEL": "1",
}  # runlevel 1: install servers, don't start them


@dataclass(frozen=True)
class Need:
    """A library or program that no Python wheel brings."""

    feature: str
    package: str
    library: str = ""
    program: str = ""
    elsewhere: str = ""
    linux_only: bool = False

    def present(self) -> bool:
        if self.linux_only and sys.platform != "linux":
            return True
        if self.library:
            return loads(self.library)
        return find_program(self.program) is not None


RUN_NEEDS = (
    Need("measuring swings", "libegl1", library="libEGL.so.1", linux_only=True),
    Need("measuring swings", "libgles2", library="libGLESv2.so.2", linux_only=True),
    Need("making PDF reports", "libpango-1.0-0", library="libpango-1.0.so.0", elsewhere="brew install pango"),
    Need(
        "making PDF reports",
        "libpangoft2-1.0-0",
        library="libpangoft2-1.0.so.0",
        elsewhere="brew install pango",
    ),
)
TEST_NEEDS = (
    Need("testing with PostgreSQL", "postgresql", program="postgres", elsewhere="brew install postgresql"),
    Need("testing with Redis", "redis-server", program="redis-server", elsewhere="brew install redis"),
    Need("testing in a browser", "chromium", program="chromium", elsewhere="install Chromium"),
    Need("testing the proxy", "nginx-light", program="nginx", elsewhere="brew install nginx"),
)
PROGRAM_PLACES = ("/usr/lib/postgresql/*/bin", "/usr/sbin", "/opt/homebrew/bin", "/usr/local/bin")


def loads(library: str) -> bool:
    names = [library]
    if sys.platform == "darwin":
        stem = library.removesuffix(".so.0")
        names = [f"{stem}.dylib", f"/opt/homebrew/lib/{stem}.dylib", f"/usr/local/lib/{stem}.dylib"]
    for name in names:
        try:
            ctypes.CDLL(name)
        except OSError:
            continue
        return True
    return False


def find_program(name: str) -> str | None:
    found = shutil.which(name)
    if found:
        return found
    places = [place for pattern in PROGRAM_PLACES for place in sorted(glob(pattern), reverse=True)]
    return shutil.which(name, path=os.pathsep.join(places))


def missing(needs: Iterable[Need]) -> list[Need]:
    return [need for need in needs if not need.present()]


def may_install() -> bool:
    root = hasattr(os, "geteuid") and os.geteuid() == 0
    return root and shutil.which("apt-get") is not None and not layout.switched_off(SWITCH)


def how_to_mend(need: Need) -> str:
    if shutil.which("apt-get"):
        return f"sudo apt-get install {need.package}"
    return need.elsewhere or f"install what Debian calls {need.package}"


def provide(needs: Iterable[Need]) -> None:
    """Install what is missing where that is allowed; otherwise say what is off. Never stops the start."""
    lacking = missing(needs)
    if lacking and may_install():
        try:
            install([need.package for need in lacking])
        except failures.SetupError as error:
            say(str(error))
        lacking = missing(lacking)
    for need in lacking:
        say(f"{need.package} is missing, so {need.feature} is off. To mend it: {how_to_mend(need)}")


def install(packages: list[str]) -> None:
    names = " ".join(dict.fromkeys(packages))
    say(f"Installing system packages, since this runs as root ({SWITCH}=off forbids it): {names}")
    env = {**os.environ, **APT_ENV}
    log = layout.setup_log()
    run_showing("Reading the list of system packages", ["apt-get", "update", "-q"], log, env=env)
    command = ["apt-get", "install", "-q", "-y", "--no-install-recommends", *dict.fromkeys(packages)]
    status, output = run_showing(f"Installing {names}", command, log, env=env)
    if status:
        raise failures.explain(output, f"Installing {names}", str(log))


def install_venv_module() -> None:
    version = f"{sys.version_info.major}.{sys.version_info.minor}"
    package = f"python{version}-venv"
    if may_install():
        install([package])
        return
    raise failures.SetupError(
        "This Python has no venv module, so the project can't make its own environment.",
        f"sudo apt-get install {package}   (elsewhere: install Python from python.org or your package manager)",
    )
