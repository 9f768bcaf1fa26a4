from django.urls import URLPattern, path

from jobs.views import field

urlpatterns: list[URLPattern] = [
    path("field/hello", field.hello, name="field-hello"),
    path("field/acts", field.acts, name="field-acts"),
]
