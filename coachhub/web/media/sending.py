"""Bytes of a stored file on their way out: by the proxy where there is one, else by us, whole or in parts."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlsplit

from django.conf import settings
from django.core.files.storage import default_storage
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase, StreamingHttpResponse
from django.utils.crypto import salted_hmac

from coachhub.web.media.ranges import Part, Unsatisfiable, asked_part

BLOCK_BYTES = 256 * 1024


def send_file(request: HttpRequest, key: str, content_type: str) -> HttpResponseBase:
    """Answer a request that has passed its permission check."""
    if settings.MEDIA_ACCEL_PREFIX:
        return _by_proxy(key, content_type)
    source = _source(key)
    if source is None:
        raise Http404(key)
    try:
        part = asked_part(_range_header(request, key), source.size)
    except Unsatisfiable:
        response: HttpResponseBase = HttpResponse(status=416)
        response.headers["Content-Range"] = f"bytes */{source.size}"
        return response
    return _described(_body(request, source, part), source.size, part, key, content_type)


def _by_proxy(key: str, content_type: str) -> HttpResponse:
    response = HttpResponse(content_type=content_type)
    response.headers["X-Accel-Redirect"] = settings.MEDIA_ACCEL_PREFIX.rstrip("/") + _internal_address(key)
    return response


def _internal_address(key: str) -> str:
    try:
        default_storage.path(key)
    except NotImplementedError:
        # The store wants its own signature; the proxy passes on what stands behind the host.
        signed = urlsplit(default_storage.url(key))
        return f"{signed.path}?{signed.query}"
    return f"/{quote(key)}"


def _range_header(request: HttpRequest, key: str) -> str:
    condition = request.headers.get("If-Range")
    if condition is not None and condition.strip() != etag(key):
        return ""
    return request.headers.get("Range", "")


def etag(key: str) -> str:
    """A stored key never changes its content, so the key is the validator; the key itself stays inside."""
    return f'"{salted_hmac("coachhub.media.etag", key).hexdigest()[:32]}"'


def _body(request: HttpRequest, source: _Source, part: Part | None) -> HttpResponseBase:
    status = 200 if part is None else 206
    if request.method == "HEAD":
        return HttpResponse(status=status)
    return StreamingHttpResponse(source.read(part or Part(0, source.size - 1)), status=status)


def _described(
    response: HttpResponseBase, size: int, part: Part | None, key: str, content_type: str
) -> HttpResponseBase:
    response.headers["Content-Type"] = content_type
    response.headers["Accept-Ranges"] = "bytes"
    response.headers["ETag"] = etag(key)
    response.headers["Content-Length"] = str(size if part is None else part.length)
    if part is not None:
        response.headers["Content-Range"] = f"bytes {part.start}-{part.end}/{size}"
    return response


class _Source:
    """A stored file that can be read from the middle."""

    size: int

    def read(self, part: Part) -> Iterator[bytes]:
        raise NotImplementedError


class _Disk(_Source):
    def __init__(self, path: Path) -> None:
        self._path = path
        self.size = path.stat().st_size

    def read(self, part: Part) -> Iterator[bytes]:
        with self._path.open("rb") as file:
            file.seek(part.start)
            left = part.length
            while left > 0 and (block := file.read(min(BLOCK_BYTES, left))):
                left -= len(block)
                yield block


class _Store(_Source):
    """An object in an S3-compatible store: only the part asked for is fetched."""

    def __init__(self, handle: Any) -> None:
        self._handle = handle
        self.size = int(handle.content_length)

    def read(self, part: Part) -> Iterator[bytes]:
        if self.size == 0:
            return
        body = self._handle.get(Range=f"bytes={part.start}-{part.end}")["Body"]
        yield from body.iter_chunks(BLOCK_BYTES)


def _source(key: str) -> _Source | None:
    try:
        path = Path(default_storage.path(key))
    except NotImplementedError:
        if not default_storage.exists(key):
            return None
        return _Store(default_storage.bucket.Object(key))  # type: ignore[attr-defined]
    return _Disk(path) if path.is_file() else None
