from django.apps import AppConfig


class RecipesConfig(AppConfig):
    name = "recipes"
    label = "recipes"
    verbose_name = "The recipe library"

    def ready(self) -> None:
        from recipes import database_rules  # noqa: F401  (the library's rules register themselves)
        from recipes.finding import WORDS_OF_TRIALS
        from recipes.finishes.marking import mark_doubts_about, mark_doubts_of_recipes
        from recipes.finishes.touched import recipes_past_the_limit, recipes_touched_by
        from recipes.solutions.hazards import what_is_in_lots
        from recipes.solutions.holding import (
            hold_lots_touched_by,
            lots_made_safe_at,
            stop_clock_of_released,
            why_not_back,
            why_not_out,
            why_stays_held,
        )
        from recipes.solutions.loosened import solutions_loosened_by
        from recipes.solutions.putting_in_use import bottles_touched_by, solutions_touched_by
        from recipes.trials.search_words import words_of_trials
        from recipes.trials.touched import start_clocks_of_trials, trials_touched_by
        from recipes.trials.waste_sources import TRIALS
        from studio.house.saving import AFTER_SAVING_SAFETY, TOUCHED_BY_LIMIT
        from studio.stockroom.lots.keeping import NOT_OUT, RELEASED, STAYS_HELD
        from studio.stockroom.made_here import MADE_SAFE_AT, WHAT_IS_IN
        from studio.stockroom.materials import AFTER_RECLASSING, AFTER_SAVING, LOOSENED_BY, TOUCHED_BY
        from studio.stockroom.undoing import NOT_BACK
        from studio.stockroom.waste.sources import SOURCES

        if TRIALS not in SOURCES:
            SOURCES.append(TRIALS)
        if what_is_in_lots not in WHAT_IS_IN:
            WHAT_IS_IN.append(what_is_in_lots)
        if lots_made_safe_at not in MADE_SAFE_AT:
            MADE_SAFE_AT.append(lots_made_safe_at)
        if not WORDS_OF_TRIALS:
            WORDS_OF_TRIALS.append(words_of_trials)
        for touched in (bottles_touched_by, solutions_touched_by, recipes_touched_by, trials_touched_by):
            if touched not in TOUCHED_BY:
                TOUCHED_BY.append(touched)
        if solutions_loosened_by not in LOOSENED_BY:
            LOOSENED_BY.append(solutions_loosened_by)
        if recipes_past_the_limit not in TOUCHED_BY_LIMIT:
            TOUCHED_BY_LIMIT.append(recipes_past_the_limit)
            AFTER_SAVING_SAFETY.append(mark_doubts_of_recipes)
        if hold_lots_touched_by not in AFTER_SAVING:
            AFTER_SAVING.extend([hold_lots_touched_by, mark_doubts_about])
            STAYS_HELD.append(why_stays_held)
            NOT_OUT.append(why_not_out)
            NOT_BACK.append(why_not_back)
            RELEASED.append(stop_clock_of_released)
            AFTER_RECLASSING.append(start_clocks_of_trials)
