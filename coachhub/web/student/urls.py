from __future__ import annotations

from django.urls import path

from coachhub.web.student import answer, home, new, plan, practice, progress, reasoning, submission, thread

app_name = "student"
urlpatterns = [
    path("", home.home, name="home"),
    path("new/", new.new, name="new"),
    path("plan/", plan.plan, name="plan"),
    path("last-day/", plan.last_day, name="last-day"),
    path("progress/", progress.progress, name="progress"),
    path("sent/<uuid:public_id>/", submission.submission, name="submission"),
    path("sent/<uuid:public_id>/edit/", new.edit, name="edit"),
    path("sent/<uuid:public_id>/state.json", submission.state, name="state"),
    path("sent/<uuid:public_id>/send/", submission.send, name="send"),
    path("sent/<uuid:public_id>/take-back/", submission.withdraw, name="withdraw"),
    path("answers/<uuid:public_id>/", answer.answer, name="answer"),
    path("answers/<uuid:public_id>/talks/<uuid:talk_id>/film/", answer.film, name="talk-film"),
    path("answers/<uuid:public_id>/practice/", practice.practise, name="practise"),
    path("lessons/<uuid:public_id>/practice/", practice.practise_lesson, name="practise-lesson"),
    path("practice/", practice.practice, name="practice"),
    path("answers/<uuid:public_id>/say-back/", reasoning.say_back, name="say-back"),
    path("questions/<uuid:public_id>/", reasoning.answer_a_question, name="answer-question"),
    path("findings/", reasoning.findings, name="findings"),
    path("thread/<uuid:public_id>/", thread.thread, name="thread"),
    path("thread/<uuid:public_id>/reply/", thread.reply, name="reply"),
]
