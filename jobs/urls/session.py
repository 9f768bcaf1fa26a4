from django.urls import URLPattern, path

from jobs.views import session

urlpatterns: list[URLPattern] = [
    path("", session.home, name="home"),
    path("sign-in/", session.sign_in, name="sign-in"),
    path("sign-out/", session.sign_out, name="sign-out"),
    path("password/", session.password_reset, name="password-reset"),
    path("password/sent/", session.password_reset_sent, name="password-reset-sent"),
    path(
        "password/new/<uidb64>/<token>/",
        session.password_reset_confirm,
        name="password-reset-confirm",
    ),
    path("password/kept/", session.password_reset_complete, name="password-reset-complete"),
    path("account/", session.account, name="account"),
]
