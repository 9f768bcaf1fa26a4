from django.urls import URLPattern, path

from jobs.views import field, told_later

urlpatterns: list[URLPattern] = [
    path("field/hello", field.hello, name="field-hello"),
    path("field/acts", field.acts, name="field-acts"),
    path("told/", told_later.told_later, name="told-later"),
    path("told/<int:pk>/", told_later.told_noted, name="told-noted"),
]
