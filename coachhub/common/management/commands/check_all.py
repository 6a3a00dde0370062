from __future__ import annotations

import sys
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from coachhub.bootstrap import layout, scripts
from coachhub.bootstrap.failures import SetupError
from coachhub.common.checks.steps import STEPS, Result, run_all


class Command(BaseCommand):
    help = "Lint, format, types, migrations, import directions, browser modules: everything but the tests."
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        names = ", ".join(step.name for step in STEPS)
        parser.add_argument("only", nargs="*", help=f"run only these: {names}")

    def handle(self, *args: Any, **options: Any) -> None:
        chosen = tuple(step for step in STEPS if not options["only"] or step.name in options["only"])
        try:
            scripts.ensure()
        except SetupError as error:
            sys.exit(f"\n{error}")
        failed = [result.step.name for result in run_all(layout.ROOT, chosen, self.show) if result.failed]
        if failed:
            sys.exit(f"\n{len(failed)} of {len(chosen)} checks failed: {', '.join(failed)}")
        self.stdout.write(f"\nAll {len(chosen)} checks are good.")

    def show(self, result: Result) -> None:
        mark = "FAIL" if result.failed else "note" if result.status else "ok"
        first, *rest = result.text.splitlines() or [""]
        if result.status:
            first, rest = "", result.text.splitlines()
        self.stdout.write(f"{mark:<5}{result.step.name:<27}{result.seconds:5.1f} s  {first}")
        for line in rest if result.status else ():
            self.stdout.write(f"       {line}")
        self.stdout.flush()
