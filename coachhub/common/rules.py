"""Who may do what: predicates over (person, thing), combined with ``&``, ``|`` and ``~``, one per action.

Each app's ``rules.py`` registers its own; views, tasks and templates ask ``can`` and ``require``. Whether a person
may *see* a row is the business of ``visible_to`` on its model: out of sight is a 404, seen but not allowed a 403.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.core.exceptions import PermissionDenied

Test = Callable[[Any, Any], bool]


@dataclass(frozen=True)
class Predicate:
    test: Test
    name: str

    def __call__(self, user: Any, obj: Any = None) -> bool:
        return bool(self.test(user, obj))

    def __and__(self, other: Predicate) -> Predicate:
        return Predicate(
            lambda user, obj: self(user, obj) and other(user, obj), f"({self.name} & {other.name})"
        )

    def __or__(self, other: Predicate) -> Predicate:
        return Predicate(
            lambda user, obj: self(user, obj) or other(user, obj), f"({self.name} | {other.name})"
        )

    def __invert__(self) -> Predicate:
        return Predicate(lambda user, obj: not self(user, obj), f"~{self.name}")


def predicate(test: Test) -> Predicate:
    """Make a plain ``(user, obj) -> bool`` function combinable."""
    return Predicate(test, getattr(test, "__name__", "predicate"))


_rules: dict[str, Predicate] = {}


def rule(action: str, holds: Predicate) -> None:
    """Register ``holds`` as the one condition for ``action`` (``"camps.invite"``)."""
    if action in _rules and _rules[action] is not holds:
        raise ValueError(f"action must be registered once, and {action!r} already is")
    _rules[action] = holds


def actions() -> frozenset[str]:
    return frozenset(_rules)


def can(user: Any, action: str, obj: Any = None) -> bool:
    """Whether ``user`` may do ``action`` to ``obj``; somebody not signed in, or switched off, may do nothing."""
    if action not in _rules:
        raise ValueError(f"action must be one of {sorted(_rules)}, not {action!r}")
    if not getattr(user, "is_authenticated", False) or not user.is_active:
        return False
    return _rules[action](user, obj)


def require(user: Any, action: str, obj: Any = None) -> None:
    if not can(user, action, obj):
        raise PermissionDenied(action)
