from django.apps import AppConfig
from django.db.backends.signals import connection_created


class WiringConfig(AppConfig):
    name = "config"
    verbose_name = "Settings"

    def ready(self) -> None:
        from . import checks  # noqa: F401 - registers the system checks
        from .data_folder import make_database_private

        connection_created.connect(make_database_private)
