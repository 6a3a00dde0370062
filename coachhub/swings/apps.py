from __future__ import annotations

from django.apps import AppConfig


class SwingsConfig(AppConfig):
    name = "coachhub.swings"
    label = "swings"

    def ready(self) -> None:
        from coachhub.common.sweep import register
        from coachhub.swings.tasks import send_camps_behind, send_lost_runs

        register("measuring", send_lost_runs)
        register("bands", send_camps_behind)
