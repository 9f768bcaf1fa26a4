from django.urls import URLPattern, path

from jobs.views import callbacks, causes, charges, chemicals, facts, jobs, parts, who_changed

urlpatterns: list[URLPattern] = [
    path("callbacks/", callbacks.callbacks, name="callbacks"),
    path("callbacks/jobs/", callbacks.callbacks_jobs, name="callbacks-jobs"),
    path("callbacks/file/", callbacks.callbacks_export, name="callbacks-export"),
    path("callbacks/causes/", causes.cause_review, name="cause-review"),
    path("callbacks/causes/<int:pk>/", causes.cause_decide, name="cause-decide"),
    path("callbacks/questions/<int:pk>/", causes.question_settle, name="question-settle"),
    path("jobs/<int:pk>/", jobs.job_detail, name="job-detail"),
    path("jobs/<int:pk>/cancel/", facts.job_cancel, name="job-cancel"),
    path("handovers/<int:pk>/correct/", facts.handover_correct, name="handover-correct"),
    path("reports/<int:pk>/correct/", facts.report_correct, name="report-correct"),
    path("losses/<int:pk>/withdraw/", facts.loss_withdraw, name="loss-withdraw"),
    path("sites/<int:pk>/service-ended/", facts.service_end, name="service-end"),
    path("sites/<int:pk>/unreached/", facts.site_unreached, name="site-unreached"),
    path("systems/<int:pk>/off/", facts.system_off, name="system-off"),
    path("jobs/<int:pk>/charge/", charges.job_charge, name="job-charge"),
    path("chemicals/", chemicals.chemicals_used, name="chemicals"),
    path("chemicals/fills/", chemicals.chemicals_fills, name="chemicals-fills"),
    path("chemicals/file/", chemicals.chemicals_file, name="chemicals-file"),
    path("charges/", charges.charges, name="charges"),
    path("charges/file/", charges.charges_file, name="charges-file"),
    path("parts/", parts.parts, name="part-list"),
    path("parts/file/", parts.parts_file, name="part-file"),
    path("changes/", who_changed.who_changed, name="who-changed"),
    path("changes/file/", who_changed.who_changed_file, name="who-changed-file"),
]
