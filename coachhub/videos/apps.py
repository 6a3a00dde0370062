from __future__ import annotations

from django.apps import AppConfig


class VideosConfig(AppConfig):
    name = "coachhub.videos"
    label = "videos"
