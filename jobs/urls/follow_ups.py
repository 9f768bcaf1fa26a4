from django.urls import URLPattern, path

from jobs.views import attempts, worklist

urlpatterns: list[URLPattern] = [
    path("worklist/", worklist.worklist, name="worklist"),
    path("promises/<int:pk>/", worklist.follow_up_detail, name="follow-up-detail"),
    path("promises/<int:pk>/book/", worklist.follow_up_book, name="follow-up-book"),
    path("promises/<int:pk>/put-off/", worklist.follow_up_snooze, name="follow-up-snooze"),
    path("promises/<int:pk>/take-up/", worklist.follow_up_take_up, name="follow-up-take-up"),
    path("promises/<int:pk>/give-up/", worklist.follow_up_waive, name="follow-up-waive"),
    path("promises/<int:pk>/settled/", worklist.follow_up_settle, name="follow-up-settle"),
    path("promises/<int:pk>/tried/", attempts.follow_up_attempt, name="follow-up-attempt"),
]
