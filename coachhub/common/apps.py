from __future__ import annotations

from django.apps import AppConfig
from django.utils.module_loading import autodiscover_modules


class CommonConfig(AppConfig):
    name = "coachhub.common"
    label = "common"

    def ready(self) -> None:
        # The queue's app must exist before the first task is sent; `coachhub/__init__.py` may not import it.
        import coachhub.celery  # noqa: F401

        # Every app's permission rules register themselves by being imported.
        autodiscover_modules("rules")
