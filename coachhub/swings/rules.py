from __future__ import annotations

from typing import Any

from coachhub.accounts.models import User
from coachhub.camps.rules import coaches
from coachhub.common.rules import predicate, rule
from coachhub.swings.models import Swing


@predicate
def coaches_its_student(user: User, obj: Any) -> bool:
    return isinstance(obj, Swing) and coaches(user, obj.clip.submission)


# A verdict on a sign and a corrected event are the same kind of word.
rule("swings.judge", coaches_its_student)
