from __future__ import annotations

import sys

from django.core.management.base import BaseCommand

from coachhub.bootstrap import scripts, testrun
from coachhub.bootstrap.failures import SetupError


class Command(BaseCommand):
    help = (
        "Run all tests on both forms. Further words go to pytest; --form=embedded or --form=scaled runs one."
    )

    def run_from_argv(self, argv: list[str]) -> None:
        try:
            scripts.ensure()
            status = testrun.run(argv[2:])
        except SetupError as error:
            sys.exit(f"\n{error}")
        except KeyboardInterrupt:
            sys.exit(130)
        sys.exit(status)
