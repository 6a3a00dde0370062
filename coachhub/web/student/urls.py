from __future__ import annotations

from django.urls import path

from coachhub.web.student import answer, home, new, progress, submission, thread

app_name = "student"
urlpatterns = [
    path("", home.home, name="home"),
    path("new/", new.new, name="new"),
    path("progress/", progress.progress, name="progress"),
    path("sent/<uuid:public_id>/", submission.submission, name="submission"),
    path("sent/<uuid:public_id>/edit/", new.edit, name="edit"),
    path("sent/<uuid:public_id>/state.json", submission.state, name="state"),
    path("sent/<uuid:public_id>/send/", submission.send, name="send"),
    path("sent/<uuid:public_id>/take-back/", submission.withdraw, name="withdraw"),
    path("answers/<uuid:public_id>/", answer.answer, name="answer"),
    path("answers/<uuid:public_id>/practice/", answer.practise, name="practise"),
    path("thread/<uuid:public_id>/", thread.thread, name="thread"),
    path("thread/<uuid:public_id>/reply/", thread.reply, name="reply"),
]
