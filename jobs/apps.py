from __future__ import annotations

from django.apps import AppConfig
from django.db.models.signals import post_migrate


class JobsConfig(AppConfig):
    name = "jobs"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from equipment import insert_only

        from .access import ensure_groups
        from .forms.plain_words import speak_plainly
        from .reports.statistics import register_statistics
        from .search import index

        insert_only.declare("jobs.LogEntry")
        for name in ("Act", "ActAnswer", "ActNote"):
            insert_only.declare(f"jobs.{name}")
        for name in ("HandoverFact", "HandoverHelper", "CallbackFact", "LossFact", "Verdict"):
            insert_only.declare(f"jobs.{name}")
        insert_only.declare("jobs.VisitTold")
        insert_only.declare("jobs.NoticeTold")
        insert_only.declare("jobs.RecallTold")
        insert_only.declare("jobs.RuleVersion")
        insert_only.declare("jobs.Happening")
        insert_only.declare("jobs.RecordCorrection")
        insert_only.declare("jobs.ChecklistRecord", closed_when="OLD.status = 'closed'")
        post_migrate.connect(insert_only.install_after_migrate, sender=self)
        post_migrate.connect(ensure_groups, sender=self)
        register_statistics()
        speak_plainly()
        index.connect()
