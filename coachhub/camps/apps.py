from __future__ import annotations

from django.apps import AppConfig


class CampsConfig(AppConfig):
    name = "coachhub.camps"
    label = "camps"

    def ready(self) -> None:
        from coachhub.camps.domain.invitation_mail import requeue
        from coachhub.common.sweep import register

        register("camps.invitation_mail", requeue)
