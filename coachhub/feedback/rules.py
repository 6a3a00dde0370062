from __future__ import annotations

from typing import Any

from coachhub.accounts.models import Guardianship, User
from coachhub.camps.rules import camp_is_open, coaches, staff
from coachhub.common.rules import predicate, rule
from coachhub.feedback.models import Review, Thread


def _submission_of(obj: Any) -> Any:
    return obj.submission if isinstance(obj, Review) else obj


@predicate
def coaches_it(user: User, obj: Any) -> bool:
    return coaches(user, _submission_of(obj))


@predicate
def answers_for_it(user: User, obj: Any) -> bool:
    return staff(user, _submission_of(obj))


@predicate
def own_thread(user: User, obj: Any) -> bool:
    return isinstance(obj, Thread) and obj.student_id == user.pk


@predicate
def guards_its_student(user: User, obj: Any) -> bool:
    """An active guardian of a minor; who reads along with a grown-up doesn't write."""
    return (
        isinstance(obj, Thread)
        and Guardianship.objects.answering(user).filter(child_id=obj.student_id).exists()
    )


rule("feedback.review", coaches_it)
rule("feedback.see_private_note", answers_for_it)
rule("feedback.write", coaches_it | own_thread | guards_its_student)
rule("feedback.edit_map", coaches & camp_is_open)
rule("feedback.see_findings", staff)
rule("feedback.teach", coaches)
