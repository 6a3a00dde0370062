from __future__ import annotations

from django.apps import AppConfig
from django.utils.module_loading import autodiscover_modules


class CommonConfig(AppConfig):
    name = "coachhub.common"
    label = "common"

    def ready(self) -> None:
        # The queue's app must exist before the first task is sent; `coachhub/__init__.py` may not import it.
        from django.core.checks import register

        import coachhub.celery  # noqa: F401
        from coachhub.common.unsafe import TAG, check_combinations

        register(check_combinations, TAG, deploy=True)
        # Every app's permission rules register themselves by being imported.
        autodiscover_modules("rules")
