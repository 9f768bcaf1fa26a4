from django.urls import URLPattern, path

from jobs.views import field, kit, shell, told_later

urlpatterns: list[URLPattern] = [
    path("field/hello", field.hello, name="field-hello"),
    path("field/acts", field.acts, name="field-acts"),
    path("field/kit", kit.kit, name="field-kit"),
    path("field/absent", shell.absent, name="field-absent"),
    path("sw.js", shell.service_worker, name="service-worker"),
    path("field/kept/", field.kept, name="field-kept"),
    path("told/", told_later.told_later, name="told-later"),
    path("told/<int:pk>/", told_later.told_noted, name="told-noted"),
]
