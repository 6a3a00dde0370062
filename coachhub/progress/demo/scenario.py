"""The story of the demo camp as data: read, checked, and turned into days and times."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any, cast
from uuid import UUID, uuid5
from zoneinfo import ZoneInfo

STORY = Path(__file__).with_name("camp.json")
# Names rows of the demo camp the same way each time, so that loading twice finds them again.
NAMESPACE = UUID("6d1f6d5c-2b74-4b0e-9c54-6a0f3f1d8c11")
# Everybody of the demo camp signs in with it. The demo is for one's own machine.
PASSWORD = "alder-fen-camp"
STEPS = frozenset(
    {"send", "answer", "open", "say", "say_back", "practise", "defer", "hand_over", "release", "case"}
)

Data = dict[str, Any]


@dataclass(frozen=True)
class Calendar:
    """Day 0 is the day on which the demo was first loaded; the story lies before it."""

    today: date
    zone: ZoneInfo

    def day(self, number: int) -> date:
        return self.today + timedelta(days=number)

    def at(self, number: int, clock: str) -> datetime:
        return datetime.combine(self.day(number), time.fromisoformat(clock), tzinfo=self.zone)


@dataclass(frozen=True)
class Student:
    key: str
    person: Data
    story: tuple[Data, ...]

    def sent(self, submission: str) -> Data:
        return next(step for step in self.story if step.get("id") == submission)


@dataclass(frozen=True)
class Scenario:
    camp: Data
    cohorts: dict[str, str]
    staff: tuple[Data, ...]
    invited: tuple[Data, ...]
    students: tuple[Student, ...]

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.camp["time_zone"])

    def steps(self) -> Iterator[tuple[Student, Data]]:
        for student in self.students:
            for step in student.story:
                yield student, step

    def clips(self) -> list[str]:
        return [clip for _, step in self.steps() if step["do"] == "send" for clip in step["clips"]]

    def only(self, keys: set[str]) -> Scenario:
        """The same camp with fewer stories; everybody still joins.

        Raises ValueError if a key is no student's.
        """
        unknown = keys - {student.key for student in self.students}
        if unknown:
            raise ValueError(
                f"student must be one of {[student.key for student in self.students]}, not {sorted(unknown)}"
            )
        students = tuple(
            student if student.key in keys else Student(student.key, student.person, ())
            for student in self.students
        )
        return Scenario(self.camp, self.cohorts, self.staff, self.invited, students)


def read(path: Path = STORY) -> Scenario:
    """Raises ValueError if the story uses a clip twice, runs backwards or knows no such step."""
    told = cast(Data, json.loads(path.read_text(encoding="utf-8")))
    students = tuple(
        Student(
            person["key"],
            {name: value for name, value in person.items() if name != "story"},
            tuple(_named(person["key"], number, step) for number, step in enumerate(person["story"])),
        )
        for person in told["students"]
    )
    found = Scenario(told["camp"], told["cohorts"], tuple(told["staff"]), tuple(told["invited"]), students)
    _check(found)
    return found


def _named(key: str, number: int, step: Data) -> Data:
    return step | {"uid": uuid5(NAMESPACE, f"{key}/{number}")}


def submission_id(key: str) -> UUID:
    return uuid5(NAMESPACE, f"submission/{key}")


def _check(scenario: Scenario) -> None:
    clips = scenario.clips()
    if len(set(clips)) != len(clips):
        raise ValueError("clips must each be sent once in the story, but one stands for two swings")
    for student, step in scenario.steps():
        if step["do"] not in STEPS:
            raise ValueError(f"step of {student.key} must be one of {sorted(STEPS)}, not {step['do']!r}")
    for student in scenario.students:
        moments = [(step["day"], step.get("time", "12:00")) for step in student.story]
        if moments != sorted(moments) or any(day >= 0 for day, _ in moments):
            raise ValueError(f"story of {student.key} must run forward and end before today")
