"""Included by coachhub/web/coach/urls.py; names live in its namespace."""

from __future__ import annotations

from django.urls import path

from coachhub.web.coach.desk import beside, following, page, reasoning, saves, talk, voice

urlpatterns = [
    path("desk/<uuid:public_id>/", page.desk, name="desk"),
    path("desk/<uuid:public_id>/take/", saves.take, name="desk-take"),
    path("desk/<uuid:public_id>/answer/", saves.answer, name="desk-answer"),
    path("desk/<uuid:public_id>/marks/", saves.marks, name="desk-marks"),
    path("desk/<uuid:public_id>/judge/", saves.judge, name="desk-judge"),
    path("desk/<uuid:public_id>/correct/", saves.correct, name="desk-correct"),
    path("desk/<uuid:public_id>/joint/", saves.joint, name="desk-joint"),
    path("desk/<uuid:public_id>/ask/", saves.ask, name="desk-ask"),
    path("desk/<uuid:public_id>/check/", page.check, name="desk-check"),
    path("desk/<uuid:public_id>/publish/", saves.publish, name="desk-publish"),
    path("desk/<uuid:public_id>/ahead/", following.ahead, name="desk-ahead"),
    path("desk/<uuid:public_id>/beside/", beside.beside, name="desk-beside"),
    path("desk/<uuid:public_id>/comparisons/", beside.comparisons, name="desk-comparisons"),
    path("desk/<uuid:public_id>/comparisons/<uuid:uid>/drop/", beside.drop, name="desk-comparison-drop"),
    path("desk/<uuid:public_id>/talks/", talk.talks, name="desk-talks"),
    path("desk/<uuid:public_id>/talks/<uuid:talk_id>/", talk.talk, name="desk-talk"),
    path("desk/<uuid:public_id>/voice/", voice.voice, name="desk-voice"),
    path("desk/<uuid:public_id>/voice/<uuid:note_id>/", voice.note, name="desk-voice-note"),
    path(
        "desk/<uuid:public_id>/explanations/<uuid:explanation_id>/",
        voice.explanation,
        name="desk-explanation",
    ),
    path("desk/<uuid:public_id>/reasoning/", reasoning.panel, name="desk-reasoning"),
    path("desk/<uuid:public_id>/eye/", reasoning.eye, name="desk-eye"),
    path("desk/<uuid:public_id>/eye/<uuid:seen_id>/back/", reasoning.eye_back, name="desk-eye-back"),
    path("desk/<uuid:public_id>/questions/<uuid:question_id>/", reasoning.read, name="desk-read"),
    path("desk/<uuid:public_id>/take-path/", reasoning.take_path, name="desk-take-path"),
    path("desk/<uuid:public_id>/earlier/", reasoning.fate, name="desk-fate"),
    path("desk/<uuid:public_id>/opinion/", reasoning.opinion, name="desk-opinion"),
    path("said-back/<uuid:public_id>/", reasoning.grasp, name="said-back"),
]
