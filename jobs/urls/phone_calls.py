from django.urls import URLPattern, path

from jobs.views import phone_calls

urlpatterns: list[URLPattern] = [
    path("call/", phone_calls.call_new, name="call-new"),
    path("call/found/", phone_calls.call_found, name="call-found"),
    path("call/house/", phone_calls.call_house, name="call-house"),
    path("calls/taken/", phone_calls.call_list, name="call-list"),
    path("calls/<int:pk>/", phone_calls.call_detail, name="call-detail"),
    path("calls/<int:pk>/answer/", phone_calls.call_answer, name="call-answer"),
    path("calls/<int:pk>/take-back/", phone_calls.call_take_back, name="call-take-back"),
]
