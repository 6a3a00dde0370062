"""Who reads a student's progress, and what of it: staff all that was measured, the student and who reads along the
numbers and signs that a coach confirmed."""

from __future__ import annotations

from dataclasses import dataclass

from coachhub.accounts.models import User
from coachhub.camps.models import Cohort, Membership
from coachhub.feedback.enums import ReviewState
from coachhub.progress.domain.readable import numbers_behind
from coachhub.progress.domain.sign_marks import SignMarks, all_marks, confirmed_marks
from coachhub.progress.domain.trends import Trend, trends_by_student
from coachhub.videos.models import Submission


@dataclass(frozen=True)
class Reading:
    place: Membership
    reader: User
    is_staff: bool

    @property
    def is_own(self) -> bool:
        return self.reader.pk == self.place.user_id

    @property
    def shows_numbers(self) -> bool:
        return self.is_staff or self.place.camp.students_see_trends

    def submissions(self) -> list[int]:
        """Staff see what was sent, others what was answered."""
        sent = Submission.objects.filter(student=self.place.user, camp=self.place.camp)
        if not self.is_staff:
            sent = sent.filter(review__state=ReviewState.PUBLISHED)
        return list(sent.values_list("pk", flat=True))

    def marks(self) -> SignMarks:
        student, camp = self.place.user, self.place.camp
        return all_marks(student, camp) if self.is_staff else confirmed_marks(student, camp)

    def trends(self, metrics: set[str] | None) -> list[Trend]:
        if not self.shows_numbers or metrics == set():
            return []
        sent = Submission.objects.filter(pk__in=self.submissions())
        return trends_by_student(sent, metrics).get(self.place.user_id, [])


def reading_of(place: Membership, reader: User) -> Reading:
    assert place.cohort_id is not None  # A student's place is in a cohort.
    staffed = Cohort.objects.staffed_by(reader).filter(pk=place.cohort_id)
    return Reading(place, reader, staffed.exists())


def numbers_of(marks: SignMarks) -> set[str]:
    """The numbers behind the signs that have a row: for a student only those that a coach confirmed."""
    return numbers_behind(row.sign for row in marks.rows)
