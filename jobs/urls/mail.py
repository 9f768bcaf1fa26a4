from django.urls import URLPattern, path

from jobs.views import customer_links, mail_holds, messages

urlpatterns: list[URLPattern] = [
    path("messages/", messages.message_list, name="messages"),
    path("messages/<int:pk>/", messages.message_detail, name="message-detail"),
    path("messages/<int:pk>/send-again/", messages.message_send_again, name="message-send-again"),
    path("messages/<int:pk>/arrived/", messages.message_arrived, name="message-arrived"),
    path("holds/<int:pk>/release/", mail_holds.hold_release, name="hold-release"),
    path("holds/<int:pk>/settle/", mail_holds.hold_settle, name="hold-settle"),
    path("v/<str:token>/", customer_links.visit_answer, name="visit-answer"),
    path("v/stop/<str:token>/", customer_links.mail_stop, name="mail-stop"),
]
