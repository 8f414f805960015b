from django.apps import AppConfig
from django.db.models.signals import post_migrate, pre_migrate


class StudioConfig(AppConfig):
    name = "studio"
    verbose_name = "The house"

    def ready(self) -> None:
        from studio import checks, database_rules, house_rules  # noqa: F401  (checks and rules register themselves)

        pre_migrate.connect(database_rules.lift_before_migrating, sender=self)
        post_migrate.connect(database_rules.install_after_migrating, sender=self)
