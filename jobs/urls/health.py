from django.urls import URLPattern, path

from jobs.views import health

urlpatterns: list[URLPattern] = [path("healthz", health.healthz, name="healthz")]
