"""The API as a whole: its description, how it refuses, and where its parts hang."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from ninja import NinjaAPI
from ninja.errors import AuthenticationError, HttpError, ValidationError
from ninja.openapi.schema import OpenAPISchema
from ninja.throttling import AuthRateThrottle

from coachhub.common.domain.errors import RuleBroken, Stale
from coachhub.web.api import camps, swings, threads
from coachhub.web.api.auth import Key

DESCRIPTION = (
    "Read swings, readouts, answers, threads and cohort figures, and write into threads, with a key of your own. "
    "The same rules hold as on the pages: what you can't see there is not found here, and what a student reads of "
    "the measuring is what a coach confirmed and sent."
)
PROBLEM = "application/problem+json"
CODES = {
    400: "bad_request",
    401: "no_key",
    403: "not_allowed",
    404: "not_found",
    422: "invalid",
    429: "too_many",
}


class CampAPI(NinjaAPI):
    def get_openapi_schema(self, **chosen: Any) -> OpenAPISchema:
        """The framework describes every answer as plain JSON; refusals are problem documents (RFC 9457)."""
        described = super().get_openapi_schema(**chosen)
        for methods in described["paths"].values():
            for call in methods.values():
                for status, body in call["responses"].items():
                    if int(status) >= 400:
                        body["content"] = {PROBLEM: body["content"]["application/json"]}
        return described


api = CampAPI(
    title="Camp API",
    version="1",
    description=DESCRIPTION,
    urls_namespace="api",
    auth=Key(),
    throttle=[AuthRateThrottle("600/m")],
    docs_url=None,
)
api.add_router("", camps.router)
api.add_router("", swings.router)
api.add_router("", threads.router)


def refusal(request: HttpRequest, status: int, sentence: str, code: str = "", **more: Any) -> HttpResponse:
    body = {"status": status, "code": code or CODES.get(status, "error"), "detail": sentence} | more
    response = api.create_response(request, body, status=status)
    response["Content-Type"] = PROBLEM
    return response


@api.exception_handler(AuthenticationError)
def no_key(request: HttpRequest, error: AuthenticationError) -> HttpResponse:
    response = refusal(request, 401, "Send a key that still holds: Authorization: Bearer <key>.")
    response["WWW-Authenticate"] = "Bearer"
    return response


@api.exception_handler(Http404)
def not_found(request: HttpRequest, error: Http404) -> HttpResponse:
    return refusal(request, 404, "There is no such thing here for you.")


@api.exception_handler(PermissionDenied)
def not_allowed(request: HttpRequest, error: PermissionDenied) -> HttpResponse:
    return refusal(request, 403, "You may see this, but not do that.")


@api.exception_handler(Stale)
def stale(request: HttpRequest, error: Stale) -> HttpResponse:
    return refusal(request, 409, error.sentence, error.code)


@api.exception_handler(RuleBroken)
def rule_broken(request: HttpRequest, error: RuleBroken) -> HttpResponse:
    return refusal(request, 422, error.sentence, error.code)


@api.exception_handler(ValidationError)
def invalid(request: HttpRequest, error: ValidationError) -> HttpResponse:
    wrong = [
        {"where": ".".join(str(part) for part in one.get("loc", ())), "why": str(one.get("msg", ""))}
        for one in error.errors
    ]
    return refusal(request, 422, "Something in the request is not as described.", wrong=wrong)


@api.exception_handler(HttpError)
def said(request: HttpRequest, error: HttpError) -> HttpResponse:
    return refusal(request, error.status_code, str(error))
