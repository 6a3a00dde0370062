"""One clip by a plain form, for browsers without scripts: the same rules, in one piece."""

from __future__ import annotations

from uuid import UUID

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt, csrf_protect
from django.views.decorators.http import require_POST

from coachhub.accounts.models import User
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.rules import require
from coachhub.videos.domain import pieces
from coachhub.videos.domain.uploads import Announced, begin_upload, end_upload, finish_upload
from coachhub.videos.models import Reference, Submission, Upload

Home = Submission | Reference
# What the form's other fields and the boundaries may add to the file.
FRAME_BYTES = 64 * 1024
TOO_LARGE = "This file is too large. Trim the clip to the swing and send it again."
CUT_OFF = "The clip did not arrive whole. Please send it again."
NO_ROOM = "There is no room left on our side. Please try again in an hour."


@csrf_exempt  # checked in `_receive`: the token stands in the body, which is read only once its size is known
@require_POST
@login_required
def plain_upload(request: HttpRequest, public_id: UUID) -> HttpResponse:
    submission = get_object_or_404(Submission.objects.visible_to(_person(request)), public_id=public_id)
    require(request.user, "videos.send", submission)
    return _bounded(request, submission)


@csrf_exempt
@require_POST
@login_required
def plain_reference_upload(request: HttpRequest, public_id: UUID) -> HttpResponse:
    reference = get_object_or_404(Reference.objects.usable_by(_person(request)), public_id=public_id)
    require(request.user, "videos.edit_reference", reference)
    return _bounded(request, reference)


def _bounded(request: HttpRequest, home: Home) -> HttpResponse:
    length = request.headers.get("Content-Length", "")
    if not length.isdigit() or int(length) > settings.UPLOAD_MAX_BYTES + FRAME_BYTES:
        messages.error(request, TOO_LARGE)
        return _back(home)
    return _receive(request, home)


def _back(home: Home) -> HttpResponse:
    page = "coach:reference" if isinstance(home, Reference) else "student:submission"
    return redirect(page, home.public_id)


@csrf_protect
def _receive(request: HttpRequest, home: Home) -> HttpResponse:
    file = request.FILES.get("file")
    if file is None:
        messages.error(request, "Choose a clip first.")
        return _back(home)
    view = home.view if isinstance(home, Reference) else request.POST.get("view", "")
    try:
        done = _take(file, home, view, _person(request))
    except RuleBroken as broken:
        messages.error(request, broken.sentence)
    except ValueError:
        messages.error(request, "Say from where you filmed: face-on or down-the-line.")
    except pieces.DiskFull:
        messages.error(request, NO_ROOM)
    else:
        if done.refused_text:
            messages.error(request, done.refused_text)
        else:
            messages.success(request, "Your clip has arrived. It is being checked now.")
    return _back(home)


def _take(file: UploadedFile, home: Home, view: str, by: User) -> Upload:
    announced = Announced(file.size or 0, view, file.name or "")
    upload = begin_upload(home, announced, by=by, now=timezone.now())
    try:
        upload = pieces.append(upload, file, offset=0, size=upload.length, checksum=None, clock=timezone.now)
    except pieces.DiskFull:
        end_upload(upload, now=timezone.now())
        raise
    if upload.offset < upload.length:
        end_upload(upload, now=timezone.now())
        raise RuleBroken("cut_off", CUT_OFF)
    return finish_upload(upload, now=timezone.now())


def _person(request: HttpRequest) -> User:
    assert isinstance(request.user, User)
    return request.user
