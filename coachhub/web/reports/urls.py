from __future__ import annotations

from django.urls import path

from coachhub.web.reports import cohort, student

app_name = "reports"
urlpatterns = [
    path("students/<uuid:public_id>/report.pdf", student.student, name="student"),
    path("cohorts/<uuid:public_id>/report.pdf", cohort.cohort, name="cohort"),
]
