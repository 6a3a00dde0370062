from __future__ import annotations

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBadRequest, HttpResponseRedirect
from django.utils.cache import patch_cache_control
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST, require_safe

from coachhub.accounts.domain.people import choose_language
from coachhub.accounts.models import User
from coachhub.web.wording import scripts

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


@require_safe
def words_of_scripts(request: HttpRequest, code: str, digest: str) -> HttpResponse:
    """The browser modules' sentences; a page of an older version gets those of now, but doesn't keep them."""
    if code not in dict(settings.LANGUAGES):
        raise Http404
    answer = HttpResponse(scripts.script(code), content_type="text/javascript; charset=utf-8")
    is_named = digest == scripts.digest(code)
    if is_named:
        patch_cache_control(answer, public=True, max_age=A_YEAR, immutable=True)
    else:
        patch_cache_control(answer, no_cache=True)
    return answer


def _back(request: HttpRequest) -> str:
    """The page one came from, if it is one of this site's."""
    wanted = request.POST.get("next", "")
    ours = url_has_allowed_host_and_scheme(
        wanted, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    )
    return wanted if ours else "/"
