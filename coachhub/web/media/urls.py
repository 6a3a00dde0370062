from __future__ import annotations

from django.urls import path

from coachhub.web.media import views

app_name = "media"
urlpatterns = [
    path("<str:kind>/<uuid:public_id>/", views.file, name="file"),
]
