from __future__ import annotations

from django.urls import path

from coachhub.web.coach import drills, findings, parking, queue, student, thread, verbs
from coachhub.web.coach.desk import urls as desk
from coachhub.web.coach.library import urls as library

app_name = "coach"
urlpatterns = [
    path("", queue.queue, name="queue"),
    path("reviews/<uuid:public_id>/release/", verbs.release, name="release"),
    path("reviews/<uuid:public_id>/defer/", verbs.defer, name="defer"),
    path("reviews/<uuid:public_id>/hand-over/", verbs.pass_on, name="hand-over"),
    path("reviews/<uuid:public_id>/no-answer-needed/", verbs.no_answer_needed, name="no-answer-needed"),
    path("reviews/<uuid:public_id>/reply/", thread.reply_to, name="reply-to"),
    path("clips/<uuid:public_id>/allow/", verbs.allow_clip, name="allow-clip"),
    path("students/<uuid:public_id>/", student.student, name="student"),
    path("students/<uuid:public_id>/clear-alert/", verbs.clear_pain_alert, name="clear-alert"),
    path("students/<uuid:public_id>/write/", thread.write_first, name="write-first"),
    path("threads/<uuid:public_id>/", thread.thread, name="thread"),
    path("threads/<uuid:public_id>/write/", thread.write, name="write"),
    path("students/<uuid:public_id>/course/", findings.course, name="course"),
    path("camps/<uuid:public_id>/findings/", findings.findings, name="camp-findings"),
    path("camps/<uuid:public_id>/lesson/<slug:ground>/<slug:key>/", findings.lesson, name="lesson"),
    path("camps/<uuid:public_id>/map/", findings.cause_map, name="camp-map"),
    path("camps/<uuid:public_id>/map/change/", findings.change_map, name="camp-map-change"),
    path("students/<uuid:public_id>/later/", parking.park_words, name="park"),
    path("later/<uuid:public_id>/take-up/", parking.take_up_words, name="take-up"),
    path("later/<uuid:public_id>/drop/", parking.drop_words, name="unpark"),
    path("camps/<uuid:public_id>/drills/", drills.drills, name="drills"),
    path("camps/<uuid:public_id>/drills/new/", drills.new, name="drill-new"),
    path("drills/<uuid:public_id>/", drills.edit, name="drill"),
    path("drills/<uuid:public_id>/retire/", drills.retire, name="drill-retire"),
    *desk.urlpatterns,
    *library.urlpatterns,
]
