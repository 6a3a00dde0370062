from __future__ import annotations

from django.apps import AppConfig


class FeedbackConfig(AppConfig):
    name = "coachhub.feedback"
    label = "feedback"

    def ready(self) -> None:
        from coachhub.common.sweep import register
        from coachhub.feedback.tasks import (
            send_lost_cases,
            send_lost_mail,
            send_lost_notes,
            send_lost_talks,
        )

        register("answer mail", send_lost_mail)
        register("voice notes", send_lost_notes)
        register("talks", send_lost_talks)
        register("cases", send_lost_cases)
