"""Play the whole story, student by student, with every clip checked and measured for real. Stop and go on at will."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

from django.db import transaction
from django.utils import timezone

from coachhub.common.domain.errors import RuleBroken
from coachhub.progress.demo import arriving, story
from coachhub.progress.demo.scenario import Data, Scenario, Student, submission_id
from coachhub.progress.demo.showing import show_case
from coachhub.videos.domain.submissions import send_submission
from coachhub.videos.enums import SubmissionState
from coachhub.videos.models import Submission

log = logging.getLogger(__name__)
PLAYERS = story.PLAYERS | {"case": show_case}
# How long a clip takes from sending to being judged, in the story.
CHECKED_AFTER = timedelta(minutes=4)


@dataclass(frozen=True)
class Progress:
    """Said after each clip: how many of the story's clips are in, and who sent the last one."""

    done: int
    all: int
    who: str


def fill(stage: story.Stage, clips: Path, tell: Callable[[Progress], None]) -> None:
    """Raises nothing for a step that no longer fits because a visitor has acted: that student's story ends there."""
    progress = _Counter(stage.scenario, tell)
    for student in sorted(stage.scenario.students, key=_starts_late):
        try:
            for step in student.story:
                _play(stage, student, step, clips, progress)
        except RuleBroken as broken:
            log.warning("the story of %s ends early: %s", student.key, broken.sentence)


def _starts_late(student: Student) -> bool:
    """Who has just sent the first swings comes first: the worker begins, and there is something to watch."""
    return not (student.story and student.story[0].get("live"))


def left(scenario: Scenario) -> int:
    """How many clips of the story are still to come."""
    return sum(len(step["clips"]) for _, step in scenario.steps() if step["do"] == "send" and _is_open(step))


def _play(stage: story.Stage, student: Student, step: Data, clips: Path, progress: _Counter) -> None:
    if step["do"] != "send":
        PLAYERS[step["do"]](stage, student, step)
        return
    if _is_open(step):
        deliver = _send_live if step.get("live") else _send
        deliver(stage, student, step, clips)
    progress.add(student, len(step["clips"]))


def _is_open(step: Data) -> bool:
    sent = Submission.objects.filter(public_id=submission_id(step["id"]))
    return not sent.exclude(state=SubmissionState.OPEN).exists()


def _send(stage: story.Stage, student: Student, step: Data, clips: Path) -> None:
    """Check and measure first, then write all of it in one go with the story's times."""
    with ExitStack() as open_folders:
        arrivals = [
            open_folders.enter_context(arriving.measured(path, step, student))
            for path in _paths(step, clips, open_folders)
        ]
        now = stage.at(step)
        with transaction.atomic():
            submission = story.opened(stage, student, step)
            added = [
                arriving.upload(
                    arrival.path, submission, view=arrival.view, now=now + timedelta(minutes=number)
                )
                for number, arrival in enumerate(arrivals, start=1)
            ]
            sent_at = now + timedelta(minutes=len(added) + 1)
            send_submission(submission, by=submission.student, now=sent_at)
            for arrival, clip in zip(arrivals, added, strict=True):
                arriving.settle(arrival, clip, now=sent_at + CHECKED_AFTER)


def _send_live(stage: story.Stage, student: Student, step: Data, clips: Path) -> None:
    """As a student sends it today: the worker checks and measures it, and the pages show how far it is."""
    with ExitStack() as open_folders:
        paths = list(_paths(step, clips, open_folders))
        with transaction.atomic():
            submission = story.opened(stage, student, step)
            for path in paths:
                arriving.upload(path, submission, view=arriving.view_of(step), now=timezone.now())
            send_submission(submission, by=submission.student, now=timezone.now())


def _paths(step: Data, clips: Path, open_folders: ExitStack) -> Iterator[Path]:
    for name in step["clips"]:
        yield open_folders.enter_context(arriving.source(name, clips))


class _Counter:
    def __init__(self, scenario: Scenario, tell: Callable[[Progress], None]) -> None:
        self.all = len(scenario.clips())
        self.done = 0
        self.tell = tell

    def add(self, student: Student, clips: int) -> None:
        self.done += clips
        self.tell(Progress(self.done, self.all, student.person["name"]))
