from django.urls import path

from jobs.views import notices, treated

urlpatterns = [
    path("sites/<int:pk>/notices/new/", notices.notice_new, name="notice-new"),
    path("notices/<int:pk>/lift/", notices.notice_lift, name="notice-lift"),
    path("notices/<int:pk>/told/", notices.notice_told, name="notice-told"),
    path("notices/<int:pk>/take-back/", notices.notice_take_back, name="notice-take-back"),
    path("notices/<int:pk>/held/", treated.notice_hold, name="notice-hold"),
    path("held/<int:pk>/again/", treated.held_again, name="held-again"),
    path("held/<int:pk>/told/", treated.held_told, name="held-told"),
    path("parts/<int:pk>/fill/", notices.fill_new, name="fill-new"),
]
