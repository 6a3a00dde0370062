"""Headers of the resumable upload protocol tus 1.0.0, read and written. https://tus.io/protocols/resumable-upload"""

from __future__ import annotations

import base64
import binascii
import json
from datetime import datetime
from typing import Any

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils.http import http_date

from coachhub.videos.domain.pieces import CHECKSUMS, Checksum
from coachhub.videos.models import Upload

VERSION = "1.0.0"
EXTENSIONS = "creation,expiration,termination,checksum"
PIECE_TYPE = "application/offset+octet-stream"
# The protocol's own status for a piece that doesn't match its checksum.
CHECKSUM_MISMATCH = 460
LONGEST_METADATA = 8192
LONGEST_NUMBER = 15


class BadRequest(ValueError):
    """A header that the protocol doesn't allow; ``status`` is the answer."""

    def __init__(self, sentence: str, status: int = 400) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.status = status


def trouble(status: int, sentence: str, code: str = "") -> HttpResponse:
    return JsonResponse({"code": code, "sentence": sentence}, status=status)


def marked(response: HttpResponse, upload: Upload | None = None) -> HttpResponse:
    response.headers["Tus-Resumable"] = VERSION
    response.headers["Cache-Control"] = "no-store"
    if upload is not None:
        response.headers["Upload-Offset"] = str(upload.offset)
        response.headers["Upload-Expires"] = http_date(upload.expires_at.timestamp())
    return response


def method_of(request: HttpRequest) -> str:
    """The protocol lets clients behind old proxies name the method in a header."""
    return (request.headers.get("X-HTTP-Method-Override") or request.method or "").upper()


def number(request: HttpRequest, name: str) -> int:
    text = request.headers.get(name, "")
    if not text.isascii() or not text.isdigit() or len(text) > LONGEST_NUMBER:
        raise BadRequest(f"{name} must be a whole number of bytes, 0 or more, not {text[:40]!r}.")
    return int(text)


def metadata(request: HttpRequest) -> dict[str, str]:
    """Upload-Metadata: comma-separated pairs of a name and its value in Base64."""
    text = request.headers.get("Upload-Metadata", "")
    if len(text) > LONGEST_METADATA:
        raise BadRequest(f"Upload-Metadata must have at most {LONGEST_METADATA} characters, not {len(text)}.")
    pairs = (pair.strip().partition(" ") for pair in text.split(",") if pair.strip())
    return {name: _decoded(name, value) for name, _, value in pairs}


def _decoded(name: str, value: str) -> str:
    try:
        return base64.b64decode(value.strip(), validate=True).decode()
    except (binascii.Error, ValueError) as problem:
        raise BadRequest(f"Upload-Metadata must hold Base64 of UTF-8 text under {name[:40]!r}.") from problem


def report(text: str) -> dict[str, Any]:
    """What the phone found out before sending: kept for the record, dropped if it is no small JSON object."""
    try:
        found = json.loads(text or "{}", parse_constant=str) if len(text) <= 4000 else {}
    except (ValueError, RecursionError):
        return {}
    return found if isinstance(found, dict) else {}


def checksum(request: HttpRequest) -> Checksum | None:
    text = request.headers.get("Upload-Checksum")
    if text is None:
        return None
    algorithm, _, value = text.strip().partition(" ")
    if algorithm not in CHECKSUMS:
        raise BadRequest(f"Upload-Checksum must use one of {', '.join(CHECKSUMS)}, not {algorithm[:20]!r}.")
    try:
        return Checksum(algorithm, base64.b64decode(value.strip(), validate=True))
    except binascii.Error as problem:
        raise BadRequest("Upload-Checksum must hold the digest in Base64.") from problem


def is_over(upload: Upload, now: datetime) -> bool:
    return upload.expires_at <= now and upload.offset < upload.length
