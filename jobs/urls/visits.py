from django.urls import URLPattern, path

from jobs.views import attempts, giving, my_day, schedule, telling, visits, waits

urlpatterns: list[URLPattern] = [
    path("day/", schedule.day, name="day"),
    path("day/late/<int:pk>/", giving.day_late, name="day-late"),
    path("week/", schedule.week, name="week"),
    path("week/free/", schedule.free_stretch, name="free-stretch"),
    path("day/sheets/", schedule.day_sheet, name="day-sheet"),
    path("visits/book/", visits.visit_book, name="visit-book"),
    path("visits/free/", visits.visit_free, name="visit-free"),
    path("sites/<int:pk>/callback/", visits.visit_callback, name="visit-callback"),
    path("visits/<int:pk>/", visits.visit_detail, name="visit-detail"),
    path("visits/<int:pk>/move/", visits.visit_move, name="visit-move"),
    path("visits/<int:pk>/cancel/", visits.visit_cancel, name="visit-cancel"),
    path("visits/<int:pk>/wait/", waits.visit_wait, name="visit-wait"),
    path("visits/<int:pk>/wait/end/", waits.visit_wait_no_more, name="visit-wait-no-more"),
    path("visits/<int:pk>/confirm/", visits.visit_confirm, name="visit-confirm"),
    path("visits/<int:pk>/propose/", visits.visit_propose, name="visit-propose"),
    path("visits/<int:pk>/tell/", telling.visit_tell, name="visit-tell"),
    path("visits/<int:pk>/requests/", telling.visit_requests, name="visit-requests"),
    path("visits/<int:pk>/not-reached/", attempts.visit_not_reached, name="visit-not-reached"),
    path("visits/<int:pk>/set-out/", visits.visit_set_out, name="visit-set-out"),
    path("visits/<int:pk>/undo/", visits.visit_undo, name="visit-undo"),
    path("visits/<int:pk>/arrive/", visits.visit_arrive, name="visit-arrive"),
    path("visits/<int:pk>/no-access/", visits.visit_no_access, name="visit-no-access"),
    path("visits/<int:pk>/close/", visits.visit_close, name="visit-close"),
    path("calls/", telling.urgent_calls, name="urgent-calls"),
    path("my-day/", my_day.my_day, name="my-day"),
]
