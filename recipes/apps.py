from django.apps import AppConfig


class RecipesConfig(AppConfig):
    name = "recipes"
    label = "recipes"
    verbose_name = "The recipe library"

    def ready(self) -> None:
        from recipes import database_rules  # noqa: F401  (the room's rules register themselves)
        from recipes.issuing import recheck_solutions_with
        from studio.inventory.materials import CHECKS_AFTER_CHANGE

        if recheck_solutions_with not in CHECKS_AFTER_CHANGE:
            CHECKS_AFTER_CHANGE.append(recheck_solutions_with)
