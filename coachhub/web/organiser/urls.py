from __future__ import annotations

from django.urls import path

from coachhub.common.spreadsheet import WRITERS
from coachhub.web.organiser import (
    bands,
    camps,
    cohorts,
    exports,
    hellos,
    invitations,
    oversight,
    plan,
    practice,
    results,
    safety,
)

app_name = "organiser"
urlpatterns = [
    path("", camps.camps, name="camps"),
    path("new/", camps.new, name="camp-new"),
    path("<uuid:public_id>/", camps.camp, name="camp"),
    path("<uuid:public_id>/edit/", camps.edit, name="camp-edit"),
    path("<uuid:public_id>/close/", camps.close, name="camp-close"),
    path("<uuid:public_id>/reopen/", camps.reopen, name="camp-reopen"),
    path("<uuid:public_id>/copy/", oversight.copy, name="camp-copy"),
    path("<uuid:public_id>/plan/", plan.plan, name="plan"),
    path("task/<uuid:public_id>/", plan.change, name="task"),
    path("task/<uuid:public_id>/retire/", plan.retire, name="task-retire"),
    path("cohort/<uuid:public_id>/hello/", hellos.hello, name="hello"),
    path("hello/<uuid:public_id>/unrecord/", hellos.unrecord, name="hello-unrecord"),
    path("<uuid:public_id>/log/", oversight.audit, name="log"),
    path("cohort/<uuid:public_id>/move/", oversight.move_work, name="move-work"),
    path("member/<uuid:public_id>/record/", oversight.record, name="record"),
    path("<uuid:public_id>/minors/", safety.safety, name="safety"),
    path("<uuid:public_id>/minors/bounds/", safety.care, name="care"),
    path("concern/<uuid:public_id>/", safety.concern, name="concern"),
    path("member/<uuid:public_id>/guardian/<uuid:guardianship_id>/", safety.guardian, name="guardian"),
    path("member/<uuid:public_id>/birth/", safety.birth, name="birth"),
    path("<uuid:public_id>/cohorts/", camps.new_cohort, name="cohort-new"),
    path("<uuid:public_id>/promise/", results.promise, name="promise"),
    path("<uuid:public_id>/signs/", results.signs, name="signs"),
    path("<uuid:public_id>/bands/", bands.bands, name="bands"),
    path("<uuid:public_id>/bands/reset/", bands.reset, name="bands-reset"),
    *(
        path(f"<uuid:public_id>/{name}.{kind}", view, {"kind": kind}, name=f"{name}-{kind}")
        for name, view in exports.EXPORTS.items()
        for kind in WRITERS
    ),
    path("cohort/<uuid:public_id>/", cohorts.cohort, name="cohort"),
    path("cohort/<uuid:public_id>/practice/", practice.practice, name="practice"),
    path("cohort/<uuid:public_id>/rename/", cohorts.rename, name="cohort-rename"),
    path("cohort/<uuid:public_id>/coach/", cohorts.add_coach, name="coach-add"),
    path("cohort/<uuid:public_id>/invite/", invitations.invite, name="invite"),
    path("cohort/<uuid:public_id>/list/", invitations.people_list, name="people-list"),
    path("cohort/<uuid:public_id>/list/send/", invitations.people_send, name="people-send"),
    path("invitation/<uuid:public_id>/withdraw/", invitations.withdraw, name="invitation-withdraw"),
    path("invitation/<uuid:public_id>/again/", invitations.mail_again, name="invitation-again"),
    path("member/<uuid:public_id>/", results.student, name="student"),
    path("member/<uuid:public_id>/state/", cohorts.member_state, name="member-state"),
]
