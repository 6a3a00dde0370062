from __future__ import annotations

from django.apps import AppConfig


class CampsConfig(AppConfig):
    name = "coachhub.camps"
    label = "camps"

    def ready(self) -> None:
        from coachhub.camps.domain.hellos import look_after
        from coachhub.camps.domain.invitation_mail import requeue
        from coachhub.camps.domain.stale import remind_of_old_answers
        from coachhub.common.sweep import register

        register("camps.invitation_mail", requeue)
        register("camps.hellos", look_after)
        register("camps.old_answers", remind_of_old_answers)
