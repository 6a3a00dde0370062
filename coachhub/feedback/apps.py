from __future__ import annotations

from django.apps import AppConfig


class FeedbackConfig(AppConfig):
    name = "coachhub.feedback"
    label = "feedback"
