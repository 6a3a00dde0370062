from __future__ import annotations

from django.apps import AppConfig


class ProgressConfig(AppConfig):
    name = "coachhub.progress"
    label = "progress"

    def ready(self) -> None:
        from coachhub.common.sweep import register
        from coachhub.progress.domain.reminders import remind
        from coachhub.progress.tasks import send_lost_takeaways

        register("takeaways", send_lost_takeaways)
        register("progress.reminders", remind)
