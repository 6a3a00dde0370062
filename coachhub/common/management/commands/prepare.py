from __future__ import annotations

import sys
from typing import Any

from django.core.management.base import BaseCommand

from coachhub.bootstrap.failures import SetupError
from coachhub.common.preparing import prepare


class Command(BaseCommand):
    help = "Bring tables, static files and the place for media up to date: once before a new version starts."
    requires_system_checks = ()

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            prepare()
        except SetupError as error:
            sys.exit(f"\n{error}")
        self.stdout.write("Tables, static files and the place for media are up to date.")
