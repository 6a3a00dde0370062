from __future__ import annotations

from django.apps import AppConfig


class CommonConfig(AppConfig):
    name = "coachhub.common"
    label = "common"

    def ready(self) -> None:
        # The queue's app must exist before the first task is sent; `coachhub/__init__.py` may not import it.
        import coachhub.celery  # noqa: F401
