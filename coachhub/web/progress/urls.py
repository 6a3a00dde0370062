from __future__ import annotations

from django.urls import path

from coachhub.web.progress import beside, cohort, student

app_name = "progress"
urlpatterns = [
    path("student/<uuid:public_id>/", student.student, name="student"),
    path("student/<uuid:public_id>/beside/<str:key>/", beside.beside, name="beside"),
    path("cohort/<uuid:public_id>/", cohort.cohort, name="cohort"),
]
