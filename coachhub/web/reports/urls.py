from __future__ import annotations

from django.urls import path

from coachhub.web.reports import student

app_name = "reports"
urlpatterns = [
    path("students/<uuid:public_id>/report.pdf", student.student, name="student"),
]
