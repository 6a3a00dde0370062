from __future__ import annotations

from django.urls import path

from coachhub.web import calendars
from coachhub.web.account import consents, doors, intake, join, keys, language, notices, second_factor, views

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
    path("consents/", consents.consents, name="consents"),
    path("intake/still-so/", intake.still_so, name="still-so"),
    path("intake/advice/", intake.pain_advice, name="pain-advice"),
    path("notices/", notices.notices, name="notices"),
    path("notices/mail/", notices.mail, name="mail"),
    path("notices/<uuid:public_id>/", notices.follow, name="notice"),
    path("no-letters/<str:token>/", notices.unsubscribe, name="unsubscribe"),
    path("language/", language.choose, name="language"),
    path("code/", second_factor.code, name="code"),
    path("second-factor/", second_factor.set_up, name="second-factor"),
    path("second-factor/change/", second_factor.change, name="second-factor-change"),
    path("signed-in/", doors.doors, name="doors"),
    path("signed-in/close/", doors.close_others, name="doors-close"),
    path("signed-in/<uuid:public_id>/close/", doors.close, name="door-close"),
    path("address/", doors.address, name="address"),
    path("address/<str:token>/", doors.confirm_address, name="address-confirm"),
    path("calendar/", calendars.own, name="calendar"),
    path("keys/", keys.keys, name="keys"),
    path("keys/<uuid:public_id>/end/", keys.end, name="key-end"),
]
