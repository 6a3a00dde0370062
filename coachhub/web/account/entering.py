"""Through the door: password first, the second factor's code after it, and a note of the browser."""

from __future__ import annotations

from django.conf import settings
from django.contrib.auth import login, update_session_auth_hash
from django.http import HttpRequest
from django.utils import timezone

from coachhub.accounts.domain.doors import SEEN, open_door
from coachhub.accounts.models import User

BACKEND = "django.contrib.auth.backends.ModelBackend"
# A password that was right is remembered this long while the code is looked up.
PATIENCE_S = 600
AWAITING = "awaits_code"


def let_in(request: HttpRequest, person: User, *, second_factor: bool = False) -> None:
    login(request, person, backend=BACKEND)
    request.session.pop(AWAITING, None)
    if second_factor:
        request.session["second_factor"] = True
    note_door(request, person)


def note_door(request: HttpRequest, person: User) -> None:
    if not request.session.session_key:
        request.session.save()
    request.session[SEEN] = int(timezone.now().timestamp())
    open_door(
        person,
        session_key=str(request.session.session_key),
        agent=request.headers.get("User-Agent", ""),
        now=timezone.now(),
    )


def stay_in(request: HttpRequest, person: User) -> None:
    """After the doors were closed or the password changed: this browser stays signed in."""
    update_session_auth_hash(request, person)
    note_door(request, person)


def await_code(request: HttpRequest, person: User, then: str) -> None:
    request.session.cycle_key()
    request.session[AWAITING] = {"person": person.pk, "at": timezone.now().timestamp(), "then": then}


def awaited(request: HttpRequest) -> tuple[User, str] | None:
    """Whose password was right in this browser a moment ago, and where they wanted to go."""
    held = request.session.get(AWAITING)
    if not held or timezone.now().timestamp() - held["at"] > PATIENCE_S:
        return None
    person = User.objects.filter(pk=held["person"], is_active=True).first()
    return (person, held["then"] or settings.LOGIN_REDIRECT_URL) if person else None
