from __future__ import annotations

from django.urls import include, path

from coachhub.web import calendars, home, offline
from coachhub.web.account.language import words_of_scripts
from coachhub.web.api.guide import guide
from coachhub.web.api.site import api

urlpatterns = [
    path("", home.home, name="home"),
    path("healthz", home.alive, name="alive"),
    path("film/", offline.guide, name="guide"),
    path("guide-worker.js", offline.worker, name="guide-worker"),
    path("words/<slug:code>-<slug:digest>.js", words_of_scripts, name="script-words"),
    path("calendar/", include((calendars.urlpatterns, "calendar"))),
    path("account/", include("coachhub.web.account.urls", namespace="account")),
    path("my/", include("coachhub.web.student.urls", namespace="student")),
    path("guardian/", include("coachhub.web.guardian.urls", namespace="guardian")),
    path("coach/", include("coachhub.web.coach.urls", namespace="coach")),
    path("organiser/", include("coachhub.web.organiser.urls", namespace="organiser")),
    path("uploads/", include("coachhub.web.uploads.urls", namespace="uploads")),
    path("api/", guide, name="api-guide"),
    path("api/v1/", api.urls),
    path("lessons/", include("coachhub.web.cases.urls", namespace="cases")),
    path("data/", include("coachhub.web.data.urls", namespace="data")),
    path("progress/", include("coachhub.web.progress.urls", namespace="progress")),
    path("reports/", include("coachhub.web.reports.urls", namespace="reports")),
    path("media/", include("coachhub.web.media.urls", namespace="media")),
]
handler404 = "coachhub.web.home.not_found"
handler403 = "coachhub.web.home.not_allowed"
