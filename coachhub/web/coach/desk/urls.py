"""Included by coachhub/web/coach/urls.py; names live in its namespace."""

from __future__ import annotations

from django.urls import path

from coachhub.web.coach.desk import page, saves, voice

urlpatterns = [
    path("desk/<uuid:public_id>/", page.desk, name="desk"),
    path("desk/<uuid:public_id>/take/", saves.take, name="desk-take"),
    path("desk/<uuid:public_id>/answer/", saves.answer, name="desk-answer"),
    path("desk/<uuid:public_id>/marks/", saves.marks, name="desk-marks"),
    path("desk/<uuid:public_id>/judge/", saves.judge, name="desk-judge"),
    path("desk/<uuid:public_id>/correct/", saves.correct, name="desk-correct"),
    path("desk/<uuid:public_id>/ask/", saves.ask, name="desk-ask"),
    path("desk/<uuid:public_id>/check/", page.check, name="desk-check"),
    path("desk/<uuid:public_id>/publish/", saves.publish, name="desk-publish"),
    path("desk/<uuid:public_id>/voice/", voice.voice, name="desk-voice"),
    path("desk/<uuid:public_id>/voice/<uuid:note_id>/", voice.note, name="desk-voice-note"),
]
