"""What goes over the wire. Field names are the site's words; times are RFC 3339 in UTC, durations are seconds."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any
from uuid import UUID

from ninja import Field, Schema


class Problem(Schema):
    """RFC 9457 without a type: the status, a code for programs and a sentence for people."""

    status: int
    code: str
    detail: str


class CampOut(Schema):
    id: UUID
    name: str
    starts_on: date
    ends_on: date
    time_zone: str
    promise_hours: int
    state: str
    my_roles: list[str]


class CohortOut(Schema):
    id: UUID
    name: str
    camp: UUID


class MeOut(Schema):
    id: UUID
    name: str
    email: str
    time_zone: str
    key_may_write: bool
    key_ends_at: datetime


class SwingRef(Schema):
    id: UUID
    number: int
    start_s: float
    end_s: float


class ClipOut(Schema):
    id: UUID
    number: int
    view: str
    state: str
    refused_code: str
    refused_text: str
    duration_s: float | None
    fps: float | None
    width: int | None
    height: int | None
    swings: list[SwingRef]


class SubmissionOut(Schema):
    id: UUID
    camp: UUID
    cohort: UUID
    student: UUID
    student_name: str
    state: str
    range_day: date
    club_class: str
    miss_start: str
    miss_curve: str
    miss_strike: str
    miss_height: str
    intents: list[str]
    sent_at: datetime | None
    due_at: datetime | None = Field(None, description="When the answer is promised for.")
    answer: UUID | None = Field(None, description="The answer, once it is published.")


class SubmissionWithClips(SubmissionOut):
    clips: list[ClipOut]


class SwingOut(SwingRef):
    clip: UUID
    submission: UUID | None
    view: str
    club_class: str


class NumberOut(Schema):
    value: float | None
    se: float | None = Field(None, description="Standard error, in the number's unit.")
    unit: str
    title: str
    reason: str | None = Field(None, description="Why there is no value.")


class SignOut(Schema):
    level: str
    probability: float | None
    verdicts: list[str] = Field(description="What coaches said of it on this swing.")


class EventOut(Schema):
    t_s: float
    se_s: float


class ReadoutOut(Schema):
    id: UUID
    swing: UUID
    revision: int
    measured_at: datetime
    engine: str
    view: str
    fps: float | None
    reviewed: bool = Field(description="False: signs are the machine's word alone.")
    events: dict[str, EventOut]
    metrics: dict[str, NumberOut]
    signs: dict[str, SignOut]
    not_visible: list[str] = Field(description="What one phone can't see.")
    limits: list[str]


class AnswerOut(Schema):
    id: UUID
    submission: UUID
    published_at: datetime
    coach: str
    words: str
    keep: str
    priority: str
    cue: str
    drill: str
    dose: str


class ThreadOut(Schema):
    id: UUID
    camp: UUID
    cohort: UUID
    student: UUID
    student_name: str
    unread: int


class MessageOut(Schema):
    id: UUID
    at: datetime
    author: str
    kind: str
    text: str
    answer: UUID | None


class MessageIn(Schema):
    text: str = Field(min_length=1, max_length=4000)
    id: UUID | None = Field(
        None, description="Make one up and repeat it when you repeat the call: said once."
    )


class ShareOut(Schema):
    sign: str
    confirmed: int = Field(description="Students in whom a coach confirmed it at least once.")
    students: int = Field(description="Students whose answered swings could show it.")


class FiguresOut(Schema):
    cohort: UUID
    students: int
    with_intake: int
    ever_sent: int
    due_this_week: int
    promise_hours: int
    answered: int
    answered_in_time: int
    overdue: int
    median_hours: float | None = Field(None, description="Hours on the promise clock until the answer.")
    signs: list[ShareOut]


def number_out(entry: dict[str, Any], title: str) -> NumberOut:
    return NumberOut(
        value=entry.get("value"),
        se=entry.get("se"),
        unit=entry.get("unit") or "",
        title=title,
        reason=entry.get("reason"),
    )
