from django.apps import AppConfig


class InventoryConfig(AppConfig):
    name = "studio.inventory"
    label = "inventory"
    verbose_name = "The stockroom"

    def ready(self) -> None:
        from studio.inventory import database_rules  # noqa: F401  (the room's rules register themselves)
