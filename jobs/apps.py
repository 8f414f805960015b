from django.apps import AppConfig


class JobsConfig(AppConfig):
    name = "jobs"
    label = "jobs"
    verbose_name = "The jobs"

    def ready(self) -> None:
        from jobs import database_rules  # noqa: F401  (the room's rules register themselves)
        from jobs.work.in_doubt import tickets_touched_by
        from studio.stockroom.materials import TOUCHED_BY

        if tickets_touched_by not in TOUCHED_BY:
            TOUCHED_BY.append(tickets_touched_by)
