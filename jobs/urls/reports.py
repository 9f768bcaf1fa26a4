from django.urls import URLPattern, path

from jobs.views import callbacks, causes, facts

urlpatterns: list[URLPattern] = [
    path("callbacks/", callbacks.callbacks, name="callbacks"),
    path("callbacks/jobs/", callbacks.callbacks_jobs, name="callbacks-jobs"),
    path("callbacks/file/", callbacks.callbacks_export, name="callbacks-export"),
    path("callbacks/causes/", causes.cause_review, name="cause-review"),
    path("callbacks/causes/<int:pk>/", causes.cause_decide, name="cause-decide"),
    path("callbacks/questions/<int:pk>/", causes.question_settle, name="question-settle"),
    path("jobs/<int:pk>/facts/", facts.job_facts, name="job-facts"),
    path("jobs/<int:pk>/cancel/", facts.job_cancel, name="job-cancel"),
    path("handovers/<int:pk>/correct/", facts.handover_correct, name="handover-correct"),
    path("reports/<int:pk>/correct/", facts.report_correct, name="report-correct"),
    path("losses/<int:pk>/withdraw/", facts.loss_withdraw, name="loss-withdraw"),
    path("sites/<int:pk>/service-ended/", facts.service_end, name="service-end"),
    path("systems/<int:pk>/off/", facts.system_off, name="system-off"),
]
