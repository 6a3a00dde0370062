from __future__ import annotations

from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from coachhub.common.domain.sights import note_sight
from coachhub.videos.models import Clip
from coachhub.web.media.kinds import KINDS, Kind
from coachhub.web.media.links import BadLink, seconds_left
from coachhub.web.media.sending import send_file

# Pictures and indexes are fetched with many a page; these are for looking at the film.
WATCHING = frozenset({"clip.rendition", "clip.original"})


@require_safe
def file(request: HttpRequest, kind: str, public_id: UUID) -> HttpResponseBase:
    """Private media: the address must be this person's and fresh, and the person must still be allowed to see it."""
    if not request.user.is_authenticated:
        return _over(request)
    try:
        left = seconds_left(
            kind, public_id, request.user, request.GET.get("until", ""), request.GET.get("for", "")
        )
    except BadLink:
        return _over(request)
    found = KINDS.get(kind)
    row = found.find(request.user, public_id) if found else None
    if found is None or row is None:
        raise Http404
    response = _answer(request, found, row)
    if isinstance(row, Clip) and kind in WATCHING:
        note_sight(row, by=request.user, now=timezone.now(), scope=row.camp.public_id)
    # The browser may keep its copy as long as the address is good, no shared cache ever.
    response.headers["Cache-Control"] = f"private, max-age={left}"
    response.headers["X-Content-Type-Options"] = "nosniff"
    if found.saved_as is not None:
        response.headers["Content-Disposition"] = f'attachment; filename="{found.saved_as(row)}"'
    return response


def _over(request: HttpRequest) -> HttpResponse:
    return render(request, "shared/media_over.html", status=403)


def _answer(request: HttpRequest, kind: Kind, row: object) -> HttpResponseBase:
    if kind.value is not None:
        value = kind.value(row)
        if value is None:
            raise Http404
        return JsonResponse(value, safe=False)
    if kind.text is not None:
        words = kind.text(row)
        if words is None:
            raise Http404
        return HttpResponse(words, content_type=f"{kind.content_type}; charset=utf-8")
    key = kind.key(row)
    if not key:
        raise Http404
    return send_file(request, key, kind.content_type)
