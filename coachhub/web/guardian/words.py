"""What each consent means, and what follows when it is taken back, in plain words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext_lazy as _

from coachhub.accounts.domain.consent import standing, words_of
from coachhub.accounts.enums import Purpose
from coachhub.accounts.models import Consent, User

MEANS = {
    Purpose.ANALYSIS: _(
        "Videos of swings are stored, and a program measures them: joints, club and times. No face is recognised, "
        "and the program decides nothing; a coach does."
    ),
    Purpose.FEEDBACK: _(
        "The coaches of the cohort and the camp's organisers see the videos, the measurements and the answers to the "
        "questions about pain and goals, and write back."
    ),
    Purpose.COHORT: _(
        "A coach may show a swing to the cohort as an example: without the name, with the face covered, and only after "
        "a person has looked it through."
    ),
}
ENDS = {
    Purpose.ANALYSIS: _(
        "Taken back: no new video can be sent, uploads on their way are thrown away, nothing more is measured. What "
        "was measured stays in the child's own account until it is deleted there or its time is over."
    ),
    Purpose.FEEDBACK: _(
        "Taken back: no new video can be sent. Coaches and organisers no longer see videos, measurements or answers, "
        "reviews stop, and nothing of it is in their lists and exports. What was written in the talk stays readable."
    ),
    Purpose.COHORT: _("Taken back: whatever was shown to the cohort is removed from there at once."),
}


@dataclass(frozen=True)
class ConsentLine:
    purpose: str
    label: str
    means: str
    ends: str
    stands: bool
    # The last word of each whose word counts.
    words: tuple[Consent, ...]
    mine: bool | None

    @property
    def is_disputed(self) -> bool:
        return len({word.is_given for word in self.words}) == 2


def consent_lines(person: User, reader: User, *, now: datetime) -> list[ConsentLine]:
    held = standing(person)
    return [_line(purpose, held, person, reader, now=now) for purpose in Purpose]


def _line(purpose: Purpose, held: Iterable[str], person: User, reader: User, *, now: datetime) -> ConsentLine:
    words = words_of(person, purpose, now=now)
    own = words.get(reader.pk)
    return ConsentLine(
        purpose=purpose.value,
        label=str(purpose.label),
        means=str(MEANS[purpose]),
        ends=str(ENDS[purpose]),
        stands=purpose in held,
        words=tuple(words.values()),
        mine=own.is_given if own else None,
    )


def change_consents(said: Mapping[str, object], person: User, *, by: User, now: datetime) -> list[str]:
    """Read "consent-<purpose>: yes/no" as sent by a form, and say it; returns the purposes that were answered."""
    from coachhub.accounts.domain import consent

    answered = [purpose for purpose in Purpose if said.get(f"consent-{purpose}") in ("yes", "no")]
    yes = [purpose for purpose in answered if said[f"consent-{purpose}"] == "yes"]
    no = [purpose for purpose in answered if purpose not in yes]
    # The noes first: what one taps in between must not stand for a moment.
    if no:
        consent.withdraw(person, no, by=by, now=now)
    if yes:
        consent.give(person, yes, by=by, now=now)
    return [str(purpose) for purpose in answered]
