from __future__ import annotations

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from coachhub.feedback.domain.library import load_library
from coachhub.progress.demo import filling, people, scenario, shelf, story

CLIPS = Path(settings.BASE_DIR) / "fixtures" / "camp"
COMING = (
    "Their four weeks fill in while you look, one student after the other: each clip is checked and measured for real. "
    "The first time that takes some minutes."
)


class Command(BaseCommand):
    help = (
        "Load the demo camp: place and people at once; with --measure also their four weeks, every clip checked and "
        "measured for real (some minutes). Running it again goes on where it was, and then changes nothing."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--measure", action="store_true", help="play the story, too")
        parser.add_argument(
            "--student", action="append", default=[], metavar="KEY", help="only the story of this student"
        )

    def handle(self, **options: Any) -> None:
        now = timezone.now()
        told = _chosen(options["student"])
        load_library(now=now)
        camp = people.make_people(told, today=now.astimezone(told.zone).date(), now=now)
        if options["measure"]:
            stage = story.stage_of(told, camp, people.calendar_of(told, camp))
            if not options["student"]:
                shelf.fill(stage, CLIPS.parent / "clips", now=now)
            filling.fill(stage, CLIPS, self._say)
            self.stdout.write("The demo camp is complete.")
            return
        self.stdout.write(people.introduce(told))
        if filling.left(told):
            self.stdout.write(COMING)

    def _say(self, progress: filling.Progress) -> None:
        self.stdout.write(f"Demo camp: {progress.done} of {progress.all} clips in ({progress.who})")
        self.stdout.flush()


def _chosen(keys: list[str]) -> scenario.Scenario:
    told = scenario.read()
    if not keys:
        return told
    try:
        return told.only(set(keys))
    except ValueError as error:
        raise CommandError(f"{str(error).capitalize()}.") from error
