from django.urls import path

from jobs.views import notices

urlpatterns = [
    path("sites/<int:pk>/notices/new/", notices.notice_new, name="notice-new"),
    path("notices/<int:pk>/lift/", notices.notice_lift, name="notice-lift"),
    path("parts/<int:pk>/fill/", notices.fill_new, name="fill-new"),
]
