from __future__ import annotations

from datetime import datetime

from django.http import HttpRequest
from django.utils import timezone
from django.utils.dateparse import parse_datetime


def asked_before(request: HttpRequest) -> datetime | None:
    """Where an earlier page of a talk ends; what makes no sense asks for the newest page."""
    try:
        found = parse_datetime(request.GET.get("before", "").replace(" ", "+"))
    except ValueError:
        return None
    return found if found is None or timezone.is_aware(found) else None
