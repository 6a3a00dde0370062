from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseBadRequest, HttpResponseRedirect
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST

from coachhub.accounts.domain.people import choose_language
from coachhub.accounts.models import User

A_YEAR = 365 * 24 * 3600


@require_POST
def choose(request: HttpRequest) -> HttpResponse:
    """For the person, if somebody is signed in, and for this browser."""
    code = request.POST.get("language", "")
    if code not in dict(settings.LANGUAGES):
        return HttpResponseBadRequest("no such language")
    if isinstance(request.user, User):
        choose_language(request.user, code)
    answer = HttpResponseRedirect(_back(request))
    answer.set_cookie(
        settings.LANGUAGE_COOKIE_NAME,
        code,
        max_age=A_YEAR,
        samesite="Lax",
        secure=settings.HTTPS_ONLY,
        httponly=True,
    )
    return answer


def _back(request: HttpRequest) -> str:
    """The page one came from, if it is one of this site's."""
    wanted = request.POST.get("next", "")
    ours = url_has_allowed_host_and_scheme(
        wanted, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    )
    return wanted if ours else "/"
