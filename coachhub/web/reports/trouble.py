from __future__ import annotations

from django.http import HttpResponse

from coachhub.common.wording import say


def busy() -> HttpResponse:
    words = say("Several reports are being made just now. Try again in a minute.")
    return HttpResponse(
        words, status=503, content_type="text/plain; charset=utf-8", headers={"Retry-After": "60"}
    )
