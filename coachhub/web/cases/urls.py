from __future__ import annotations

from django.urls import path

from coachhub.web.cases import making, pages

app_name = "cases"
urlpatterns = [
    path("", pages.cases, name="list"),
    path("from/<uuid:public_id>/", making.new, name="new"),
    path("<uuid:public_id>/", pages.case, name="case"),
    path("<uuid:public_id>/name/", pages.name, name="name"),
    path("<uuid:public_id>/take-down/", pages.take_down, name="take-down"),
    path("<uuid:public_id>/look/", making.look, name="look"),
    path("<uuid:public_id>/again/", making.again, name="again"),
    path("<uuid:public_id>/post/", making.post, name="post"),
]
