from __future__ import annotations

from django.apps import AppConfig


class CampsConfig(AppConfig):
    name = "coachhub.camps"
    label = "camps"
