"""The apps of the studio's own rooms. Labels and tables are older than the rooms: they stay."""

from typing import Any

from django.apps import AppConfig
from django.contrib.auth.signals import user_logged_in
from django.db.models.signals import post_migrate, pre_migrate

from studio.kit.bounded_fields import bound_numbers
from studio.kit.plain_refusals import TAKEN, speak_plainly

bound_numbers()
speak_plainly()  # before models and forms are made: their fields take their sentences as they are made


class HouseConfig(AppConfig):
    name = "studio.house"
    label = "studio"
    verbose_name = "The house"

    def ready(self) -> None:
        from studio.house import (
            checks,  # noqa: F401  (checks and rules register themselves)
            sessions,
        )
        from studio.house import database_rules as house_rules  # noqa: F401
        from studio.house.watched import watch_the_house
        from studio.kit import database_rules

        # the framework's person brings a sentence of its own
        log_in_name: Any = self.get_model("Person")._meta.get_field("username")
        log_in_name.error_messages["unique"] = TAKEN
        watch_the_house()
        user_logged_in.connect(sessions.note_browser, dispatch_uid="note_browser")
        pre_migrate.connect(database_rules.lift_before_migrating, sender=self)
        post_migrate.connect(database_rules.install_after_migrating, sender=self)


class StockroomConfig(AppConfig):
    name = "studio.stockroom"
    label = "inventory"
    verbose_name = "The stockroom"

    def ready(self) -> None:
        from studio.house.changes import watch
        from studio.house.models import ChangeRecord
        from studio.stockroom import database_rules  # noqa: F401  (the room's rules register themselves)
        from studio.stockroom.models import Material

        watch(Material, kind=ChangeRecord.Kind.PRICES, subject=lambda row: row.name, columns=("list_price",))


class WholeConfig(AppConfig):
    name = "studio.whole"
    verbose_name = "The whole studio"

    def ready(self) -> None:
        from studio.house.long_work.kinds import register
        from studio.whole.long_work import AUDIT, BOOK

        register(BOOK, AUDIT)
