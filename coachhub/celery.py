"""The task queue. Import this module only where tasks are defined or run: the bootstrap imports `coachhub` bare."""

from __future__ import annotations

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "coachhub.settings")

app = Celery("coachhub")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
