from __future__ import annotations

from typing import Any

from coachhub.accounts.models import User
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


rule("feedback.review", coaches_it)
rule("feedback.see_private_note", answers_for_it)
rule("feedback.write", coaches_it | own_thread)
rule("feedback.edit_map", coaches & camp_is_open)
rule("feedback.see_findings", staff)
rule("feedback.teach", coaches)
