from django.apps import AppConfig


class RecipesConfig(AppConfig):
    name = "recipes"
    label = "recipes"
    verbose_name = "The recipe library"

    def ready(self) -> None:
        from recipes import database_rules  # noqa: F401  (the library's rules register themselves)
        from recipes.finding import WRITE_TRIALS
        from recipes.solutions.putting_in_use import recheck_solutions_with
        from recipes.trials.search_words import write_trials
        from studio.stockroom.materials import CHECKS_AFTER_CHANGE

        if not WRITE_TRIALS:
            WRITE_TRIALS.append(write_trials)
        if recheck_solutions_with not in CHECKS_AFTER_CHANGE:
            CHECKS_AFTER_CHANGE.append(recheck_solutions_with)
