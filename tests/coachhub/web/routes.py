"""Every address of the site × every person of the cast: the status each must get.

Add a row for each new URL name; the test beside this file fails for a name without a row, for a row without a name,
and for a method that answers without being in its row.

    "coach:desk": Row(get=only("coach"), kwargs=lambda scene: {"public_id": scene.review.public_id}),
    "coach:claim": Row(post=only("coach", status=302, organiser=403), kwargs=..., data=lambda scene: {...}),

``only(...)`` gives those named ``status`` (200), everybody else 404 (out of sight) and sends the anonymous to the
sign-in page (302); a keyword sets one person. What a refused person gets is also searched for the scene's private
words, and the whole database is compared before and after.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from coachhub.camps.domain.invitations import token_of
from tests.cast import NAMES
from tests.coachhub.web.scene import Scene

Statuses = dict[str, int]
Kwargs = Callable[[Scene], dict[str, Any]]


def only(
    *people: str, status: int = 200, otherwise: int = 404, anonymous: int = 302, **single: int
) -> Statuses:
    given = {name: status if name in people else otherwise for name in NAMES}
    given["anonymous"] = anonymous
    return given | dict.fromkeys(people, status) | single


def everybody(status: int = 200, **single: int) -> Statuses:
    return dict.fromkeys(NAMES, status) | single


def signed_in(status: int = 200, anonymous: int = 302, **single: int) -> Statuses:
    return everybody(status, anonymous=anonymous, **single)


@dataclass(frozen=True)
class Row:
    get: Statuses | None = None
    post: Statuses | None = None
    head: Statuses | None = None
    patch: Statuses | None = None
    delete: Statuses | None = None
    options: Statuses | None = None
    kwargs: Kwargs = lambda scene: {}
    query: Kwargs = lambda scene: {}
    data: Kwargs = lambda scene: {}
    # Send the data of the unsafe methods as this type (a dict is turned into JSON for "application/json").
    content_type: str = ""
    headers: Kwargs = lambda scene: {}
    # Runs once on the fresh scene, e.g. to put a file into storage.
    prepare: Callable[[Scene], None] = lambda scene: None

    def methods(self) -> dict[str, Statuses]:
        names = ("get", "post", "head", "patch", "delete", "options")
        return {name: given for name in names if (given := getattr(self, name)) is not None}


ROUTES: dict[str, Row] = {
    "home": Row(get=signed_in(302, outsider=200)),
    "alive": Row(get=everybody()),
    "account:me": Row(
        get=signed_in(),
        post=signed_in(302),
        data=lambda scene: {"name": "New Name", "time_zone": "Europe/Oslo"},
    ),
    "account:sign-in": Row(get=everybody(302, anonymous=200), post=everybody(302, anonymous=200)),
    "account:sign-out": Row(post=everybody(302)),
    "account:password": Row(get=signed_in(), post=signed_in()),
    "account:reset": Row(
        get=everybody(), post=everybody(302), data=lambda scene: {"email": scene.cast.student.email}
    ),
    "account:reset-sent": Row(get=everybody()),
    "account:reset-confirm": Row(
        get=everybody(), post=everybody(), kwargs=lambda scene: {"uidb64": "MQ", "token": "no-such-token"}
    ),
    "account:join": Row(
        get=everybody(student=302, cohort_mate=302),
        post=everybody(302, coach=403, coach_elsewhere=403, organiser=403, anonymous=200),
        kwargs=lambda scene: {"token": token_of(scene.invitation)},
    ),
    "account:intake": Row(get=signed_in(), post=signed_in()),
    "account:pain-advice": Row(get=signed_in(302)),
}
