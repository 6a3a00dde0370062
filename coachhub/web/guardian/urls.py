from __future__ import annotations

from django.urls import path

from coachhub.web.guardian import accepting, answers, child, concerns, mine, plan, talk, videos

app_name = "guardian"
urlpatterns = [
    path("", child.home, name="home"),
    path("children/<uuid:public_id>/", child.child, name="child"),
    path("children/<uuid:public_id>/consents/", child.consents, name="consents"),
    path("children/<uuid:public_id>/birth/", child.birth, name="birth"),
    path("children/<uuid:public_id>/stop/", child.stop, name="stop"),
    path("children/<uuid:public_id>/videos/", videos.videos, name="videos"),
    path("children/<uuid:public_id>/concerns/", concerns.concerns, name="concerns"),
    path("plans/<uuid:public_id>/", plan.plan, name="plan"),
    path("talks/<uuid:public_id>/", talk.talk, name="thread"),
    path("talks/<uuid:public_id>/write/", talk.write, name="write"),
    path("answers/<uuid:public_id>/", answers.answer, name="answer"),
    path("invitation/<str:token>/", accepting.accept_invitation, name="accept"),
    # The child's own page about guardians.
    path("mine/", mine.mine, name="mine"),
    path("mine/name/", mine.name, name="name"),
    path("mine/<uuid:public_id>/again/", mine.again, name="again"),
    path("mine/<uuid:public_id>/withdraw/", mine.withdraw, name="withdraw"),
    path("mine/<uuid:public_id>/share/", mine.share, name="share"),
    path("mine/<uuid:public_id>/end/", mine.end_sharing, name="end-sharing"),
]
