from django.urls import URLPattern, path

from jobs.views import corrections, pouring, record_steps, records, sheets

urlpatterns: list[URLPattern] = [
    path("jobs/<int:pk>/record/", record_steps.record_open, name="record-open"),
    path("records/<int:pk>/", records.record_detail, name="record-detail"),
    path("records/<int:pk>/next/", records.record_next, name="record-next"),
    path("records/<int:pk>/close/", record_steps.record_close, name="record-close"),
    path("records/<int:pk>/correct/", corrections.record_correct, name="record-correct"),
    path("records/<int:pk>/strips/", record_steps.record_strips, name="record-strips"),
    path("records/<int:pk>/print/", record_steps.record_print, name="record-print"),
    path("records/<int:pk>/facts/", records.record_facts, name="record-facts"),
    path("records/<int:pk>/answers.pdf", sheets.answers_sheet, name="answers-sheet"),
    path("records/<int:pk>/answer/", records.record_answer, name="record-answer"),
    path("records/<int:pk>/steps/", record_steps.record_step, name="record-step"),
    path(
        "records/<int:pk>/steps/<int:number>/",
        record_steps.record_step_read,
        name="record-step-read",
    ),
    path("records/<int:pk>/pour/", pouring.record_pour, name="record-pour"),
    path("records/<int:pk>/wait/", record_steps.record_timer, name="record-timer"),
    path("records/<int:pk>/pass-over/", record_steps.record_override, name="record-override"),
    path("records/<int:pk>/read/", record_steps.record_acknowledge, name="record-acknowledge"),
    path("records/<int:pk>/lift/", record_steps.record_lift, name="record-lift"),
    path("records/<int:pk>/panel/<slug:name>/", records.record_panel, name="record-panel"),
    path("records/<int:pk>/<slug:block>/", records.record_block, name="record-block"),
    path("documents/<int:pk>/", record_steps.document, name="document"),
]
