"""Included by coachhub/web/coach/urls.py; names live in its namespace."""

from __future__ import annotations

from django.urls import path

from coachhub.web.coach.library import pages

urlpatterns = [
    path("library/", pages.references, name="references"),
    path("library/new/", pages.new, name="reference-new"),
    path("library/<uuid:public_id>/", pages.reference, name="reference"),
    path("library/<uuid:public_id>/share/", pages.share, name="reference-share"),
    path("library/<uuid:public_id>/delete/", pages.delete, name="reference-delete"),
]
