"""``manage.py words``: bring the catalogues of the other languages up to date, and say what is missing in them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser


class Command(BaseCommand):
    help = __doc__

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--missing", type=Path, help="write what has no translation into this JSON file")
        parser.add_argument(
            "--take", type=Path, nargs="*", default=[], help="JSON files of message to translation"
        )
        parser.add_argument("--language", default="de")

    def handle(self, *args: Any, **options: Any) -> None:
        from coachhub.web.wording import catalogue
        from coachhub.web.wording.collect import collect

        code, root = options["language"], settings.BASE_DIR
        place = catalogue.place_of(root, code)
        words = catalogue.renewed(catalogue.read(place, code), collect(root), code)
        for path in options["take"]:
            try:
                said = json.loads(path.read_text(encoding="utf-8"))
            except (OSError, ValueError) as problem:
                raise CommandError(f"{path}: {problem}") from problem
            for key in catalogue.take(words, said):
                self.stderr.write(f"{path.name}: not asked for: {key}")
        catalogue.write(place, words)
        for key, said in catalogue.mismatched(words):
            self.stderr.write(f"gaps differ: {key} -> {said}")
        lacking = catalogue.missing(words)
        if options["missing"]:
            options["missing"].write_text(json.dumps(lacking, ensure_ascii=False, indent=0), encoding="utf-8")
        self.stdout.write(f"{code}: {len(words) - len(lacking)} of {len(words)} messages translated")
