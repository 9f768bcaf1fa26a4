from __future__ import annotations

from django.apps import AppConfig
from django.db.models.signals import post_migrate


class EquipmentConfig(AppConfig):
    name = "equipment"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from .insert_only import install_after_migrate

        post_migrate.connect(install_after_migrate, sender=self)
