from django.apps import AppConfig


class RecipesConfig(AppConfig):
    name = "recipes"
    label = "recipes"
    verbose_name = "The recipe library"

    def ready(self) -> None:
        from recipes import database_rules  # noqa: F401  (the room's rules register themselves)
