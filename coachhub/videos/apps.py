from __future__ import annotations

from django.apps import AppConfig


class VideosConfig(AppConfig):
    name = "coachhub.videos"
    label = "videos"

    def ready(self) -> None:
        from coachhub.common.sweep import register
        from coachhub.videos.tasks import send_lost_work

        register("clips", send_lost_work)
