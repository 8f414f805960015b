"""The apps of the studio's own rooms. Labels and tables are older than the rooms: they stay."""

from django.apps import AppConfig
from django.db.models.signals import post_migrate, pre_migrate


class HouseConfig(AppConfig):
    name = "studio.house"
    label = "studio"
    verbose_name = "The house"

    def ready(self) -> None:
        from studio.house import checks  # noqa: F401  (checks and rules register themselves)
        from studio.house import database_rules as house_rules  # noqa: F401
        from studio.kit import database_rules

        pre_migrate.connect(database_rules.lift_before_migrating, sender=self)
        post_migrate.connect(database_rules.install_after_migrating, sender=self)


class StockroomConfig(AppConfig):
    name = "studio.stockroom"
    label = "inventory"
    verbose_name = "The stockroom"

    def ready(self) -> None:
        from studio.stockroom import database_rules  # noqa: F401  (the room's rules register themselves)


class WholeConfig(AppConfig):
    name = "studio.whole"
    verbose_name = "The whole studio"
