from __future__ import annotations

from django.urls import path

from coachhub.web.account import intake, join, keys, views

app_name = "account"
urlpatterns = [
    path("", views.me, name="me"),
    path("sign-in/", views.SignIn.as_view(), name="sign-in"),
    path("sign-out/", views.SignOut.as_view(), name="sign-out"),
    path("password/", views.ChangePassword.as_view(), name="password"),
    path("new-password/", views.AskReset.as_view(), name="reset"),
    path("new-password/sent/", views.ResetSent.as_view(), name="reset-sent"),
    path("new-password/<uidb64>/<token>/", views.SetPassword.as_view(), name="reset-confirm"),
    path("join/<str:token>/", join.join, name="join"),
    path("intake/", intake.intake, name="intake"),
    path("intake/advice/", intake.pain_advice, name="pain-advice"),
    path("keys/", keys.keys, name="keys"),
    path("keys/<uuid:public_id>/end/", keys.end, name="key-end"),
]
