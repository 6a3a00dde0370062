"""What has to be done once before a version starts: folders, tables, static files, the bucket."""

from __future__ import annotations

import shutil
from io import StringIO
from typing import Any

from django.conf import settings
from django.core.management import call_command

from coachhub.bootstrap.failures import disk_full
from coachhub.common import unsafe

NEEDED_FREE_BYTES = 500_000_000


def prepare() -> None:
    """Safe to run again; each step is quick when nothing has changed."""
    for folder in (settings.VAR_DIR, settings.VAR_DIR / "log", settings.UPLOAD_DIR):
        folder.mkdir(parents=True, exist_ok=True)
    if shutil.disk_usage(settings.VAR_DIR).free < NEEDED_FREE_BYTES:
        raise disk_full("Starting")
    call_command(
        "check", tags=[unsafe.TAG], deploy=True, fail_level="ERROR", stdout=StringIO(), stderr=StringIO()
    )
    call_command("migrate", interactive=False, verbosity=0)
    call_command("collectstatic", interactive=False, verbosity=0)
    make_media_place()


def make_media_place() -> None:
    if not settings.S3_BUCKET:
        settings.MEDIA_ROOT.mkdir(parents=True, exist_ok=True)
        return
    from django.core.files.storage import storages

    ensure_bucket(storages["default"].connection.meta.client, settings.S3_BUCKET)  # type: ignore[attr-defined]


def ensure_bucket(client: Any, name: str) -> bool:
    """Make the bucket unless it is there; returns whether it was made."""
    from botocore.exceptions import ClientError

    try:
        client.head_bucket(Bucket=name)
    except ClientError as error:
        if error.response.get("ResponseMetadata", {}).get("HTTPStatusCode") != 404:
            raise
        client.create_bucket(Bucket=name)
        return True
    return False
