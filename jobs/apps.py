from django.apps import AppConfig


class JobsConfig(AppConfig):
    name = "jobs"
    label = "jobs"
    verbose_name = "The jobs"

    def ready(self) -> None:
        from jobs import database_rules  # noqa: F401  (the room's rules register themselves)
        from jobs.work.waste_sources import RUNS
        from studio.stockroom.waste.sources import SOURCES

        if RUNS not in SOURCES:
            SOURCES.append(RUNS)
