from __future__ import annotations

import uuid

from django.conf import settings
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from kombu import Connection

from coachhub.common.checkup.answer import Answer, Check, missing, off, ok


def database() -> Answer:
    kind = {"sqlite": "SQLite", "postgresql": "PostgreSQL"}.get(connection.vendor, connection.vendor)
    place = settings.DATABASES["default"]["NAME"]
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except DatabaseError as error:
        mend = "check DATABASE_URL and that the server runs; without DATABASE_URL a file under var/ is used"
        return missing("database", f"{kind} does not answer: {first_line(error)}", mend)
    return ok("database", f"{kind}, {place}")


def migrations() -> Answer:
    try:
        executor = MigrationExecutor(connection)
        waiting = executor.migration_plan(executor.loader.graph.leaf_nodes())
    except DatabaseError as error:
        return missing("tables", f"can't be looked at: {first_line(error)}", "mend the database first")
    if waiting:
        return missing("tables", f"{len(waiting)} migrations wait", "python3 manage.py migrate")
    return ok("tables", "up to date")


def broker() -> Answer:
    address = settings.CELERY_BROKER_URL
    if address.startswith("filesystem"):
        folder = settings.CELERY_BROKER_TRANSPORT_OPTIONS["data_folder_in"]
        return ok("broker", f"a folder of messages, {folder}; good for one machine")
    with Connection(address, connect_timeout=3) as link:
        # Only the address without its password may be shown.
        shown = link.as_uri()
        try:
            link.ensure_connection(max_retries=1, timeout=3)
        except Exception as error:  # each transport raises its own kind
            return missing(
                "broker", f"{shown} does not answer: {first_line(error)}", "check BROKER_URL; start Redis"
            )
    return ok("broker", shown)


def media() -> Answer:
    kind = f"bucket {settings.S3_BUCKET}" if settings.S3_BUCKET else str(settings.MEDIA_ROOT)
    try:
        name = default_storage.save(f"doctor/{uuid.uuid4().hex}", ContentFile(b"x"))
        default_storage.delete(name)
    except Exception as error:  # a full disk, a wrong key, a store that is down: all are "can't be written"
        return missing(
            "media", f"{kind} can't be written: {first_line(error)}", "check the disk, or the S3_ variables"
        )
    return ok("media", kind)


def mail() -> Answer:
    if settings.EMAIL_URL_HOST:
        return ok("mail", f"through {settings.EMAIL_HOST}:{settings.EMAIL_PORT}")
    return off(
        "mail",
        f"not sent, written to {settings.EMAIL_FILE_PATH}",
        "set EMAIL_HOST, EMAIL_USER, EMAIL_PASSWORD",
    )


def secret_key() -> Answer:
    kept = settings.VAR_DIR / "secret.key"
    if kept.exists() and kept.read_text().strip() == settings.SECRET_KEY:
        if kept.stat().st_mode & 0o077:
            return missing("secret key", f"{kept} can be read by others", f"chmod 600 {kept}")
        return ok("secret key", f"made at first start, kept in {kept}")
    if len(settings.SECRET_KEY) < 40:
        return missing(
            "secret key", "shorter than 40 characters", "set COACHHUB_SECRET_KEY to a long random text"
        )
    return ok("secret key", "from COACHHUB_SECRET_KEY")


def first_line(error: BaseException) -> str:
    return (str(error).strip().splitlines() or [type(error).__name__])[0][:160]


CHECKS: tuple[Check, ...] = (database, migrations, broker, media, mail, secret_key)
