"""The filming guide, and the worker that keeps it on a phone for places without signal."""

from __future__ import annotations

import hashlib
import json
import posixpath
import re
from functools import lru_cache
from pathlib import Path

from django.conf import settings
from django.contrib.staticfiles import finders
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.templatetags.static import static
from django.urls import reverse
from django.utils import translation
from django.views.decorators.http import require_safe

from coachhub.common.wording import SOURCE, language
from coachhub.videos.enums import View
from coachhub.web.wording import scripts

PICTURES = tuple(f"img/filming/{view}_{side}.svg" for view in View.values for side in ("side", "above"))
STYLES = ("css/site.css", "css/student.css", "css/film.css")
ENTRY, WORKER = "js/pages/film.js", "js/worker/guide_worker.js"
_IMPORT = re.compile(r'^(?:import|export)\b[^;"]*"(\.[^"]+)";', re.MULTILINE)


def modules_behind(path: str) -> list[str]:
    """A module and all that it imports, by their paths below the static folder."""
    found: list[str] = []
    waiting = [path]
    while waiting:
        now = waiting.pop()
        if now in found:
            continue
        found.append(now)
        near = _IMPORT.findall(_source(now))
        waiting += [posixpath.normpath(posixpath.join(posixpath.dirname(now), one)) for one in near]
    return sorted(found)


def _source(path: str) -> str:
    place = finders.find(path)
    if place is None:
        raise FileNotFoundError(f"no static file {path}")
    return Path(str(place)).read_text(encoding="utf-8")


@lru_cache
def kept_files(code: str = SOURCE) -> tuple[str, ...]:
    """Addresses of what the guide in one language needs, with the names that their content gives them."""
    names = (*PICTURES, *STYLES, "img/mark.svg", *modules_behind(ENTRY))
    return (*(static(name) for name in names), *filter(None, [scripts.address(code)]))


@lru_cache
def worker_text(page: str, code: str = SOURCE) -> str:
    source = _source(WORKER)
    digest = hashlib.sha256("\n".join((source, page, *kept_files(code))).encode())
    for name in (*PICTURES, *STYLES, *modules_behind(ENTRY)):
        digest.update(_source(name).encode())
    known = {"version": digest.hexdigest()[:16], "page": page, "files": kept_files(code)}
    return f"globalThis.GUIDE = {json.dumps(known)};\n{source}"


@require_safe
def worker(request: HttpRequest) -> HttpResponse:
    """In the language of who asks: choosing another one makes another text, and so the phone fetches its guide anew."""
    code = language()
    page = reverse("guide") + ("" if code == SOURCE else f"?language={code}")
    response = HttpResponse(worker_text(page, code), content_type="text/javascript; charset=utf-8")
    response.headers["Cache-Control"] = "no-cache"
    return response


@require_safe
def guide(request: HttpRequest) -> HttpResponse:
    """The same for everybody, signed in or not: phones keep it, in the language that the address names."""
    wanted = request.GET.get("language", "")
    code = wanted if wanted in dict(settings.LANGUAGES) else language()
    with translation.override(code):
        response = render(request, "shared/guide.html", {"views": View.choices})
    response.headers["Content-Language"] = code
    return response
