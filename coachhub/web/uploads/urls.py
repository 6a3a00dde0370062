from __future__ import annotations

from django.urls import path

from coachhub.web.uploads import form, views

app_name = "uploads"
urlpatterns = [
    path("", views.uploads, name="uploads"),
    path("<uuid:public_id>/", views.upload, name="upload"),
    path("form/<uuid:public_id>/", form.plain_upload, name="form"),
    path("form/reference/<uuid:public_id>/", form.plain_reference_upload, name="reference-form"),
]
