from __future__ import annotations

import sys
from typing import Any

from django.core.management.base import BaseCommand

from coachhub.common.checkup import machine, measuring, services
from coachhub.common.checkup.answer import Answer, State

GROUPS = (
    ("This machine", machine.CHECKS),
    ("Data and messages", services.CHECKS),
    ("Measuring", measuring.CHECKS),
)


class Command(BaseCommand):
    help = "Say what is present, missing or off, why, and how to mend it."
    requires_system_checks = ()

    def handle(self, *args: Any, **options: Any) -> None:
        broken = 0
        for title, checks in GROUPS:
            self.stdout.write(f"\n{title}")
            for check in checks:
                answer = check()
                broken += answer.state == State.MISSING
                self.show(answer)
        if broken:
            self.stdout.write(f"\nTo be mended: {broken}.")
            sys.exit(1)
        self.stdout.write("\nNothing needs mending.")

    def show(self, answer: Answer) -> None:
        self.stdout.write(f"  {answer.state:<8} {answer.name:<20} {answer.found}")
        if answer.mend:
            self.stdout.write(f"  {'':<8} {'':<20} -> {answer.mend}")
