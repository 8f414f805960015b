from django.apps import AppConfig


class JobsConfig(AppConfig):
    name = "jobs"
    label = "jobs"
    verbose_name = "The jobs"

    def ready(self) -> None:
        from jobs import database_rules  # noqa: F401  (the room's rules register themselves)
        from jobs.work.clock import alarms
        from studio.house.frame import ALARMS

        if alarms not in ALARMS:
            ALARMS.append(alarms)
