from __future__ import annotations

from django.apps import AppConfig


class ProgressConfig(AppConfig):
    name = "coachhub.progress"
    label = "progress"
