from __future__ import annotations

from typing import Any

from coachhub.accounts.models import User
from coachhub.camps.rules import coaches
from coachhub.common.rules import predicate, rule
from coachhub.swings.models import Swing


@predicate
def coaches_its_student(user: User, obj: Any) -> bool:
    if not isinstance(obj, Swing):
        return False
    reference = obj.clip.reference
    return reference.owner_id == user.pk if reference is not None else coaches(user, obj.clip.home)


# A verdict on a sign and a corrected event are the same kind of word.
rule("swings.judge", coaches_its_student)
