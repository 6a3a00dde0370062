"""The processes of a running site, as children that can be watched: web, worker, beat."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from pathlib import Path

from coachhub.bootstrap import layout
from coachhub.bootstrap.children import Child

CELERY = (sys.executable, "-m", "celery", "-A", "coachhub.celery")
# One broker folder, one machine: workers need not ask each other anything when they start.
QUIET = ("--without-gossip", "--without-mingle", "--without-heartbeat")


def web(host: str, port: int, env: Mapping[str, str], logs: Path, *, threads: int = 8) -> Child:
    # Threads and not an event loop: an upload's bytes are handed over as they arrive.
    options = ["--worker-class", "gthread", "--threads", str(threads), "--workers", "1", "--timeout", "120"]
    address = f"[{host}]:{port}" if ":" in host else f"{host}:{port}"
    command = [
        sys.executable,
        "-m",
        "gunicorn",
        "coachhub.wsgi",
        "--bind",
        address,
        *options,
        "--no-control-socket",
    ]
    return Child("web server", command, logs / "web.log", env, cwd=layout.ROOT)


def worker(env: Mapping[str, str], logs: Path, *, concurrency: int = 1) -> Child:
    options = ["--loglevel", "INFO", "--concurrency", str(concurrency), *QUIET]
    return Child("worker", [*CELERY, "worker", *options], logs / "worker.log", env, cwd=layout.ROOT)


def beat(env: Mapping[str, str], logs: Path) -> Child:
    return Child("clock", [*CELERY, "beat", "--pidfile="], logs / "beat.log", env, cwd=layout.ROOT)


def story(env: Mapping[str, str], logs: Path) -> Child:
    """Fills the demo camp while the site runs; it ends by itself."""
    command = [sys.executable, "manage.py", "load_demo", "--measure"]
    return Child("demo camp", command, logs / "demo-camp.log", env, cwd=layout.ROOT)
