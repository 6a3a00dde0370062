"""The resumable upload: what a phone on a bad network needs to send a clip in many pieces."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec
from uuid import UUID

from django.conf import settings
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt

from coachhub.accounts.models import User
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.rules import can
from coachhub.feedback.models import Review
from coachhub.videos.domain import pieces
from coachhub.videos.domain.uploads import Announced, Take, TooLarge, begin_upload, end_upload, finish_upload
from coachhub.videos.enums import UploadState
from coachhub.videos.models import Reference, Submission, Upload
from coachhub.web.uploads import protocol
from coachhub.web.uploads.protocol import BadRequest, marked, trouble

P = ParamSpec("P")
Endpoint = Callable[Concatenate[HttpRequest, P], HttpResponse]

UNKNOWN = "This upload is unknown here. Please start it again."
OVER = "This upload is over. Please start it again."


def tus(view: Endpoint[P]) -> Endpoint[P]:
    """Version, signing in, and the protocol's headers on every answer.

    A header that no form and no foreign page can send stands in for the form token: browsers ask first before they
    send it across sites, and this site never agrees.
    """

    @wraps(view)
    def answer(request: HttpRequest, /, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
        if protocol.method_of(request) != "OPTIONS":
            if request.headers.get("Tus-Resumable") != protocol.VERSION:
                response = trouble(412, f"Tus-Resumable must be {protocol.VERSION}.", "version")
                response.headers["Tus-Version"] = protocol.VERSION
                return marked(response)
            if not request.user.is_authenticated:
                return marked(
                    trouble(401, "Please sign in again; the upload then goes on where it stopped.", "sign_in")
                )
        try:
            return marked(view(request, *args, **kwargs))
        except BadRequest as problem:
            return marked(trouble(problem.status, problem.sentence, "bad_request"))

    return csrf_exempt(answer)


def options() -> HttpResponse:
    response = HttpResponse(status=204)
    response.headers["Tus-Version"] = protocol.VERSION
    response.headers["Tus-Extension"] = protocol.EXTENSIONS
    response.headers["Tus-Max-Size"] = str(settings.UPLOAD_MAX_BYTES)
    response.headers["Tus-Checksum-Algorithm"] = ",".join(pieces.CHECKSUMS)
    return response


@tus
def uploads(request: HttpRequest) -> HttpResponse:
    match protocol.method_of(request):
        case "OPTIONS":
            return options()
        case "POST":
            return _create(request)
    return _not_a_method("OPTIONS, POST")


@tus
def upload(request: HttpRequest, public_id: UUID) -> HttpResponse:
    method = protocol.method_of(request)
    if method == "OPTIONS":
        return options()
    if method not in ("HEAD", "PATCH", "DELETE"):
        return _not_a_method("OPTIONS, HEAD, PATCH, DELETE")
    found = Upload.objects.visible_to(_person(request)).filter(public_id=public_id).first()
    if found is None:
        return trouble(404, UNKNOWN, "unknown")
    if found.state == UploadState.GONE or protocol.is_over(found, timezone.now()):
        return trouble(410, OVER, "gone")
    return {"HEAD": _state, "PATCH": _append, "DELETE": _end}[method](request, found)


def _person(request: HttpRequest) -> User:
    assert isinstance(request.user, User)
    return request.user


def _not_a_method(allowed: str) -> HttpResponse:
    response = trouble(405, "This method is not for this address.", "method")
    response.headers["Allow"] = allowed
    return response


def _create(request: HttpRequest) -> HttpResponse:
    length, given = protocol.number(request, "Upload-Length"), protocol.metadata(request)
    home = _home(request, given)
    if home is None:
        return trouble(404, "What this film belongs to is unknown here. Please open it again.", "unknown")
    if (
        isinstance(home, Submission)
        and not can(request.user, "videos.add_clip", home)
        and home.student_id != request.user.pk
    ):
        return trouble(403, "Only the student who filmed these swings can add clips.", "not_yours")
    view = home.view if isinstance(home, Reference) else given.get("view", "")
    announced = Announced(length, view, given.get("filename", ""), protocol.report(given.get("report", "")))
    try:
        begun = begin_upload(home, announced, by=_person(request), now=timezone.now())
    except TooLarge as broken:
        return trouble(507 if broken.is_disk else 413, broken.sentence, broken.code)
    except RuleBroken as broken:
        return trouble(429 if broken.code == "too_often" else 403, broken.sentence, broken.code)
    except ValueError as problem:
        raise BadRequest(str(problem)) from problem
    response = HttpResponse(status=201)
    # Relative to the site: a proxy in front may speak another scheme or name.
    response.headers["Location"] = reverse("uploads:upload", kwargs={"public_id": begun.public_id})
    return marked(response, begun)


def _home(request: HttpRequest, given: dict[str, str]) -> Submission | Reference | Take | None:
    try:
        if "talk" in given:
            seen = Review.objects.visible_to(_person(request)).filter(public_id=given.get("review", ""))
            take = Take(UUID(given.get("review", "")), UUID(given["talk"]), int(given.get("take", "")))
            return take if seen.exists() else None
        if "reference" in given:
            usable = Reference.objects.usable_by(_person(request))
            return usable.filter(public_id=given["reference"]).first()
        sent = Submission.objects.visible_to(_person(request))
        return sent.filter(public_id=given.get("submission", "")).first()
    except (ValidationError, ValueError):
        return None


def _state(request: HttpRequest, found: Upload) -> HttpResponse:
    response = HttpResponse(status=200)
    response.headers["Upload-Length"] = str(found.length)
    return marked(response, found)


def _append(request: HttpRequest, found: Upload) -> HttpResponse:
    if request.headers.get("Content-Type") != protocol.PIECE_TYPE:
        return trouble(415, f"Content-Type must be {protocol.PIECE_TYPE}.", "type")
    offset, size = protocol.number(request, "Upload-Offset"), protocol.number(request, "Content-Length")
    summed = protocol.checksum(request)
    if offset != found.offset:
        return marked(trouble(409, "The file goes on elsewhere; ask for the offset again.", "offset"), found)
    if offset + size > found.length:
        return trouble(413, "More bytes came than were announced.", "too_many_bytes")
    try:
        return _appended(found, request, offset, size, summed)
    except (pieces.Locked, pieces.LockLost):
        return trouble(423, "Another piece of this file is arriving. Try again in a moment.", "locked")
    except pieces.WrongOffset:
        return trouble(409, "The file goes on elsewhere; ask for the offset again.", "offset")
    except pieces.WrongChecksum:
        return trouble(protocol.CHECKSUM_MISMATCH, "This piece arrived damaged. Send it again.", "checksum")
    except pieces.DiskFull:
        return trouble(
            507, "There is no room left on our side. What has arrived is kept; try again later.", "disk_full"
        )


def _appended(
    found: Upload, request: HttpRequest, offset: int, size: int, summed: pieces.Checksum | None
) -> HttpResponse:
    if found.state == UploadState.GROWING:
        found = pieces.append(found, request, offset=offset, size=size, checksum=summed, clock=timezone.now)
        found = finish_upload(found, now=timezone.now())
    return marked(HttpResponse(status=204), found)


def _end(request: HttpRequest, found: Upload) -> HttpResponse:
    end_upload(found, now=timezone.now())
    return HttpResponse(status=204)
