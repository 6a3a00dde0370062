from __future__ import annotations

from typing import Any

from coachhub.accounts.models import User
from coachhub.common.rules import predicate, rule


@predicate
def is_self(user: User, person: Any) -> bool:
    return isinstance(person, User) and user.pk == person.pk


@predicate
def may_make_camps(user: User, _: Any) -> bool:
    return user.may_make_camps


rule("accounts.edit_person", is_self)
rule("accounts.answer_intake", is_self)
