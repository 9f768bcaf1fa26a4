from django.urls import URLPattern, path

from jobs.views import callbacks, causes

urlpatterns: list[URLPattern] = [
    path("callbacks/", callbacks.callbacks, name="callbacks"),
    path("callbacks/jobs/", callbacks.callbacks_jobs, name="callbacks-jobs"),
    path("callbacks/file/", callbacks.callbacks_export, name="callbacks-export"),
    path("callbacks/causes/", causes.cause_review, name="cause-review"),
    path("callbacks/causes/<int:pk>/", causes.cause_decide, name="cause-decide"),
    path("callbacks/questions/<int:pk>/", causes.question_settle, name="question-settle"),
]
