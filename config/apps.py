from django.apps import AppConfig


class WiringConfig(AppConfig):
    name = "config"
    verbose_name = "Settings"

    def ready(self) -> None:
        from . import checks  # noqa: F401 - registers the system checks
