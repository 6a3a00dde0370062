"""A site of its own for one test: folders, database, queue and real processes, on the form the tests run on."""

from __future__ import annotations

import json
import os
import secrets
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from coachhub.bootstrap import layout, ports
from coachhub.bootstrap.children import Child, stop_all
from coachhub.common import serving
from coachhub.common.addresses import answers
from tests.workers import queue_of, with_path, worker_number

START_LIMIT_S = 90.0


class Stack:
    def __init__(self, folder: Path, **extra: str) -> None:
        self.folder = folder
        self.logs = folder / "log"
        self.children: list[Child] = []
        self.database = f"stack_{os.getpid()}_{time.monotonic_ns()}"
        # A browser test before this one sets it for its own process.
        self.env = {name: value for name, value in os.environ.items() if name != "DJANGO_ALLOW_ASYNC_UNSAFE"}
        # What killed processes leave behind goes with the site; short, since sockets lie in it.
        self.scratch = tempfile.mkdtemp(prefix="stack-")
        self.env |= {"COACHHUB_VAR": str(folder), "TMPDIR": self.scratch, "PYTHONUNBUFFERED": "1", **extra}
        if "DATABASE_URL" in os.environ:
            # The scaled form refuses a key that each machine makes for itself.
            self.env |= {"COACHHUB_SECRET_KEY": secrets.token_urlsafe(50), **self._own_database()}
        self.manage("migrate", "--verbosity", "0")

    def close(self) -> None:
        stop_all(self.children, grace_s=3.0)
        shutil.rmtree(self.scratch, ignore_errors=True)
        if "DATABASE_URL" in os.environ:
            self._on_server(f'DROP DATABASE IF EXISTS "{self.database}" WITH (FORCE)')

    def _own_database(self) -> dict[str, str]:
        import redis

        self._on_server(f'CREATE DATABASE "{self.database}"')
        queue = with_path(os.environ["BROKER_URL"], f"/{queue_of(worker_number(), own_site=True)}")
        redis.from_url(queue).flushdb()
        return {
            "DATABASE_URL": with_path(os.environ["DATABASE_URL"], f"/{self.database}"),
            "BROKER_URL": queue,
        }

    def _on_server(self, statement: str) -> None:
        import psycopg2

        connection = psycopg2.connect(with_path(os.environ["DATABASE_URL"], "/postgres"))
        connection.autocommit = True
        try:
            connection.cursor().execute(statement)
        finally:
            connection.close()

    def manage(self, *words: str) -> str:
        done = subprocess.run(
            [sys.executable, "manage.py", *words],
            cwd=layout.ROOT,
            env=self.env,
            capture_output=True,
            text=True,
        )
        assert done.returncode == 0, done.stdout + done.stderr
        return done.stdout

    def python(self, code: str) -> Any:
        """Run code with the site's settings in another process; what it leaves in `answer` comes back as JSON."""
        prologue = "import django, json; django.setup(); answer = None\n"
        env = {**self.env, "DJANGO_SETTINGS_MODULE": "coachhub.settings"}
        done = subprocess.run(
            [sys.executable, "-c", f"{prologue}{code}\nprint('\\n' + json.dumps(answer, default=str))"],
            cwd=layout.ROOT,
            env=env,
            capture_output=True,
            text=True,
        )
        assert done.returncode == 0, done.stdout + done.stderr
        return json.loads(done.stdout.strip().splitlines()[-1])

    def start(self, child: Child) -> Child:
        self.children.append(child)
        child.start()
        return child

    def worker(self) -> Child:
        return self.start(serving.worker(self.env, self.logs))

    def beat(self) -> Child:
        return self.start(serving.beat(self.env, self.logs))

    def web(self) -> tuple[Child, int]:
        """Start the web server and wait for it; returns it with its port on the loopback."""
        self.manage("collectstatic", "--noinput", "--verbosity", "0")
        port = ports.free_port()
        child = self.start(serving.web("127.0.0.1", port, self.env, self.logs))
        self.wait(lambda: answers("127.0.0.1", port, "/healthz"), START_LIMIT_S, "the web server answers")
        return child, port

    def wait(self, happened: Callable[[], Any], limit_s: float, what: str) -> Any:
        """Wait for something to become true; fails with the children's last words."""
        deadline = time.monotonic() + limit_s
        while time.monotonic() < deadline:
            result = happened()
            if result:
                return result
            time.sleep(0.3)
        words = "\n".join(f"--- {child.name}\n{child.last_words(20)}" for child in self.children)
        raise AssertionError(f"waited {limit_s:.0f} s in vain until {what}\n{words}")
