from __future__ import annotations

import contextlib
import os
import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator
from io import StringIO
from typing import Any

from django.conf import settings
from django.core.management import call_command, get_commands
from django.core.management.base import BaseCommand, CommandParser

from coachhub.bootstrap import ports
from coachhub.bootstrap.children import Child, revive, stop_all
from coachhub.bootstrap.failures import SetupError
from coachhub.bootstrap.progress import Line, say
from coachhub.common import serving
from coachhub.common.addresses import answers, own_addresses, shown_host
from coachhub.common.preparing import prepare

START_LIMIT_S = 60.0
STOP_GRACE_S = 8.0
LOOPBACK = {"127.0.0.1", "localhost", "::1"}


class Command(BaseCommand):
    help = "Set up, load the demo camp and run the whole site on this machine until Ctrl-C."
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--host", default="127.0.0.1", help="0.0.0.0 lets phones on the same network in")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument(
            "--workers", type=int, default=1, help="how many clips are measured at the same time"
        )
        parser.add_argument("--empty", action="store_true", help="start without the demo camp")
        parser.add_argument("--no-serve", action="store_true", help="set up and load, then stop")
        parser.add_argument("--once", action="store_true", help="start everything, see it answer, then stop")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            self.run(**options)
        except SetupError as error:
            sys.exit(f"\n{error}")

    def run(self, **options: Any) -> None:
        host, port = options["host"], options["port"]
        if not options["no_serve"]:
            ports.require_free(host, port)
        line = Line("Preparing the database and the pages")
        line.start()
        prepare()
        line.end()
        people = "" if options["empty"] else load_camp()
        if options["no_serve"]:
            self.stdout.write(people)
            return
        with asked_to_stop() as stop:
            children = make_children(host, port, options["workers"])
            story = serving.story(children[0].env or {}, settings.VAR_DIR / "log")
            try:
                for child in children:
                    child.start()
                wait_for_answer(children[0], host, port, stop)
                if not stop.is_set():
                    self.stdout.write(welcome(host, port, people))
                    self.stdout.flush()
                if not options["once"]:
                    if people:
                        story.start()
                    watch(children, stop, Told(story, say))
            finally:
                say("\nStopping ...")
                stop_all([*children, story], STOP_GRACE_S)
                say("Stopped. What has been measured is kept; `python3 manage.py demo` goes on from here.")


def load_camp() -> str:
    """Load the demo camp once; returns who may sign in as what, as the loader says it."""
    if "load_demo" not in get_commands():
        return ""
    line = Line("Loading the demo camp")
    line.start()
    spoken = StringIO()
    call_command("load_demo", stdout=spoken, verbosity=0)
    line.end()
    return spoken.getvalue().strip()


def make_children(host: str, port: int, workers: int) -> list[Child]:
    logs = settings.VAR_DIR / "log"
    env = {**os.environ, "COACHHUB_SITE_URL": f"http://{shown_host(host)}:{port}"}
    if host not in LOOPBACK and "COACHHUB_HOSTS" not in env:
        env["COACHHUB_HOSTS"] = ",".join(["127.0.0.1", "localhost", *own_addresses()])
    return [
        serving.web(host, port, env, logs),
        serving.worker(env, logs, concurrency=workers),
        serving.beat(env, logs),
    ]


@contextlib.contextmanager
def asked_to_stop() -> Iterator[threading.Event]:
    """Ctrl-C and SIGTERM set the event instead of breaking off half-way."""
    stop = threading.Event()
    before = {
        number: signal.signal(number, lambda *_: stop.set()) for number in (signal.SIGINT, signal.SIGTERM)
    }
    try:
        yield stop
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def wait_for_answer(web: Child, host: str, port: int, stop: threading.Event) -> None:
    line = Line("Starting the site")
    line.start()
    deadline = time.monotonic() + START_LIMIT_S
    while not (stop.is_set() or answers(host, port, "/healthz")):
        if not web.alive() or time.monotonic() > deadline:
            raise SetupError(
                f"The web server did not start. Its last words:\n{web.last_words()}", f"read {web.log}."
            )
        line.tick()
        stop.wait(0.2)
    line.end()


def welcome(host: str, port: int, people: str) -> str:
    lines = [f"\n{settings.SITE_NAME} runs at http://{shown_host(host)}:{port}"]
    lines += [people] if people else ["No demo camp is loaded."]
    lines.append(
        f"Mail that would be sent lies in {settings.EMAIL_FILE_PATH}; logs in {settings.VAR_DIR / 'log'}."
    )
    lines.append("Ctrl-C stops it.")
    return "\n".join(lines)


def watch(children: list[Child], stop: threading.Event, told: Told) -> None:
    while not stop.wait(0.5):
        told.tick()
        for child in children:
            revive(child, say)


class Told:
    """Passes on what the child that fills the demo camp says; the site runs meanwhile, and without it."""

    def __init__(self, story: Child, say: Callable[[str], None]) -> None:
        self.story = story
        self.say = say
        self.last = ""
        self.over = False

    def tick(self) -> None:
        if self.over or self.story.process is None:
            return
        self.over = not self.story.alive()
        line = self.story.last_words(1)
        if line and line != self.last:
            self.last = line
            self.say(line)
        if self.over and self.story.process.returncode:
            self.say(
                f"The demo camp is not complete; read {self.story.log}. Starting the demo again goes on with it."
            )
