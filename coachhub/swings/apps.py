from __future__ import annotations

from django.apps import AppConfig


class SwingsConfig(AppConfig):
    name = "coachhub.swings"
    label = "swings"
