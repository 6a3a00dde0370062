from __future__ import annotations

from django.urls import path

from coachhub.web.data import erasing, pages

app_name = "data"
urlpatterns = [
    path("<uuid:public_id>/", pages.person, name="person"),
    path("<uuid:public_id>/order/", pages.order, name="order"),
    path("<uuid:public_id>/keep/", pages.keep, name="keep"),
    path("<uuid:public_id>/erase/", erasing.account, name="erase"),
    path("sent/<uuid:public_id>/erase/", erasing.submission, name="erase-sent"),
    path("camps/<uuid:public_id>/", pages.retention, name="retention"),
]
