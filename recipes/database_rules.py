"""What the database itself keeps of the recipe library's rules: what is in use is frozen."""

from __future__ import annotations

from typing import get_args

from studio.kit.coded import code_never_changes
from studio.kit.database_rules import Event, Refuse, Rule, append_only, changed, register
from studio.stockroom.database_rules import LOSES_NO_CLASS, loses_a_class

RECIPE, STEP, PART, EVENT = "recipes_recipeversion", "recipes_step", "recipes_part", "recipes_versionevent"
SOLUTION_VERSION, INGREDIENT = "recipes_solutionversion", "recipes_ingredient"
TRIAL, CHANGE, PHOTOGRAPH = "recipes_trial", "recipes_trialchange", "recipes_trialphotograph"


def _in_use(recipe_version_id: str) -> str:
    return f"EXISTS (SELECT 1 FROM {EVENT} event WHERE event.recipe_version_id = {recipe_version_id})"


def _fixed(recipe_version_id: str) -> str:
    """In use, or tried: what a trial was made from stays as it was."""
    tried = f"EXISTS (SELECT 1 FROM {TRIAL} tried WHERE tried.recipe_version_id = {recipe_version_id})"
    return f"({_in_use(recipe_version_id)} OR {tried})"


def _closed(trial_id: str) -> str:
    return f"EXISTS (SELECT 1 FROM {TRIAL} trial WHERE trial.id = {trial_id} AND trial.closed_at IS NOT NULL)"


def _frozen(solution_version_id: str) -> str:
    return (
        f"EXISTS (SELECT 1 FROM {SOLUTION_VERSION} kept WHERE kept.id = {solution_version_id} "
        "AND kept.frozen_at IS NOT NULL)"
    )


def _frozen_content(table: str, condition_for: dict[Event, str], sentence: str) -> list[Rule]:
    return [
        Refuse(name=f"{table}_frozen_{event.lower()}", table=table, event=event, condition=condition_for[event],
               sentence=sentence)
        for event in get_args(Event) if event in condition_for
    ]


def _either(check: str) -> dict[Event, str]:
    """Return, per event, a check on the row as it was, as it will be, or both; {row} stands for OLD or NEW."""
    old, new = check.format(row="OLD"), check.format(row="NEW")
    return {"INSERT": new, "UPDATE": f"({old}) OR ({new})", "DELETE": old}


_USES_OPEN_SOLUTIONS = (
    f"EXISTS (SELECT 1 FROM {PART} part JOIN {STEP} step ON step.id = part.step_id "
    f"JOIN {SOLUTION_VERSION} used ON used.id = part.solution_version_id "
    "WHERE step.recipe_version_id = NEW.recipe_version_id AND used.frozen_at IS NULL)"
)
_STEP_OF = f"(SELECT step.recipe_version_id FROM {STEP} step WHERE step.id = {{row}}.step_id)"
_IN_USE_SENTENCE = "A recipe in use is frozen: start a new draft from it."
_FIXED_SENTENCE = "A recipe that is in use or was tried is frozen: start a new draft from it."
_FROZEN_SENTENCE = "A frozen solution stays as it was: start a new version of it."

register(
    Refuse(
        name="material_in_a_solution_loses_no_class", table="inventory_material", event="UPDATE",
        condition=loses_a_class(f"SELECT 1 FROM {INGREDIENT} used WHERE used.material_id = NEW.id"),
        sentence=LOSES_NO_CLASS,
    ),
    code_never_changes("recipes_solution"),
    code_never_changes("recipes_finish"),
    *append_only(EVENT, "Putting in use or withdrawing"),
    Refuse(
        name="removed_step_stays", table="recipes_removedstep", event="UPDATE",
        condition="OLD.put_back_at IS NOT NULL OR "
                  + changed("recipe_version_id", "number", "name", "content", "by_id", "at"),
        sentence="What was removed stays as it was; it is only put back, once.",
    ),
    *_frozen_content(RECIPE, {"UPDATE": _in_use("OLD.id"), "DELETE": _in_use("OLD.id")}, _IN_USE_SENTENCE),
    *_frozen_content(STEP, _either(_fixed("{row}.recipe_version_id")), _FIXED_SENTENCE),
    *_frozen_content(PART, _either(_fixed(_STEP_OF)), _FIXED_SENTENCE),
    *_frozen_content(
        SOLUTION_VERSION, {"UPDATE": "OLD.frozen_at IS NOT NULL", "DELETE": "OLD.frozen_at IS NOT NULL"},
        _FROZEN_SENTENCE,
    ),
    *_frozen_content(INGREDIENT, _either(_frozen("{row}.solution_version_id")), _FROZEN_SENTENCE),
    Refuse(
        name="frozen_solution_holds_frozen_ones", table=SOLUTION_VERSION, event="UPDATE",
        condition=(
            f"NEW.frozen_at IS NOT NULL AND EXISTS (SELECT 1 FROM {INGREDIENT} inside "
            f"JOIN {SOLUTION_VERSION} nested ON nested.id = inside.nested_id "
            "WHERE inside.solution_version_id = NEW.id AND nested.frozen_at IS NULL)"
        ),
        sentence="The solutions in it are frozen first.",
    ),
    Refuse(
        name="used_recipe_pins_frozen_solutions", table=EVENT, event="INSERT",
        condition=_USES_OPEN_SOLUTIONS,
        sentence="The solutions that the recipe uses are frozen first.",
    ),
    Refuse(
        name="withdrawn_after_in_use", table=EVENT, event="INSERT",
        condition=(
            f"NEW.kind = 'withdrawn' AND NOT EXISTS (SELECT 1 FROM {EVENT} first "
            "WHERE first.recipe_version_id = NEW.recipe_version_id AND first.kind = 'in use')"
        ),
        sentence="Only a recipe in use can be withdrawn.",
    ),
    Refuse(
        name="used_at_once_owns_no_shelf", table=SOLUTION_VERSION, event="INSERT",
        condition=(
            "NEW.keeps_minutes IS NULL AND EXISTS (SELECT 1 FROM recipes_solution owner "
            "WHERE owner.id = NEW.solution_id AND owner.material_id IS NOT NULL)"
        ),
        sentence="A solution with a place on the shelf keeps: enter one that is used at once as another solution.",
    ),
)
register(
    Refuse(
        name="shelf_place_only_for_what_keeps", table="recipes_solution", event="UPDATE",
        condition=(
            f"NEW.material_id IS NOT NULL AND EXISTS (SELECT 1 FROM {SOLUTION_VERSION} version "
            "WHERE version.solution_id = NEW.id AND version.keeps_minutes IS NULL)"
        ),
        sentence="A solution that is used at once has no place on the shelf.",
    ),
)
register(
    Refuse(
        name="tried_recipe_keeps_its_film", table=RECIPE, event="UPDATE",
        condition=f"{changed('film_nm', 'finish_id', 'number')} AND {_fixed('OLD.id')}", sentence=_FIXED_SENTENCE,
    ),
    Refuse(
        name="trial_rests_on_frozen_solutions", table=TRIAL, event="INSERT",
        condition=_USES_OPEN_SOLUTIONS,
        sentence="The solutions that the trial uses are frozen first.",
    ),
    Refuse(
        name="closed_trial_stays", table=TRIAL, event="UPDATE",
        condition="OLD.closed_at IS NOT NULL AND " + changed(
            "number", "recipe_version_id", "parent_id", "question", "started_at", "made_by_id", "width_mm", "height_mm",
            "glass_id", "air_c", "glass_c", "solution_c", "humidity_share", "water", "conductivity_us_cm", "score",
            "verdict", "closed_at", "form_key",
        ),
        sentence="A closed trial is not changed: add a note, or start another trial from it.",
    ),
    Refuse(
        name="trial_keeps_its_origin", table=TRIAL, event="UPDATE",
        condition=changed("number", "recipe_version_id", "parent_id", "form_key"),
        sentence="Where a trial came from never changes.",
    ),
    Refuse(name="trial_never_deleted", table=TRIAL, event="DELETE", sentence="A trial is never deleted: close it."),
    *_frozen_content(
        CHANGE, _either(_closed("{row}.trial_id")), "A closed trial is not changed: start another trial from it.",
    ),
    Refuse(
        name="photograph_of_closed_trial_stays", table=PHOTOGRAPH, event="DELETE", condition=_closed("OLD.trial_id"),
        sentence="A photograph of a closed trial stays with it.",
    ),
    Refuse(
        name="photograph_keeps_its_original", table=PHOTOGRAPH, event="UPDATE",
        condition=changed("trial_id", "original_id", "side"), sentence="A photograph's original never changes.",
    ),
    *append_only("recipes_trialnote", "A note on a trial"),
    *append_only("recipes_trialtiming", "A timing of a trial"),
    *append_only("recipes_trialuse", "What a trial took"),
    *append_only("recipes_triedagainst", "Why a stop is tried against"),
)
CLOCK, SAFE, RECORD = "recipes_silverclock", "recipes_makingsafe", "recipes_trialrecord"
_DONE = f"(SELECT safe.done_at FROM {SAFE} safe WHERE safe.id = NEW.made_safe_id)"
_EARLY_SENTENCE = "Nothing is made safe before it is mixed."

register(
    *append_only(SAFE, "A making safe"),
    Refuse(
        name="clock_only_stops", table=CLOCK, event="UPDATE",
        condition=(
            changed("id", "key", "trial_id", "lot_id", "subject", "what", "began", "noted_at", "noted_by_id")
            + " OR NEW.started_at > OLD.started_at"
            + " OR (OLD.made_safe_id IS NOT NULL AND " + changed("started_at", "made_safe_id") + ")"
        ),
        sentence="A clock of ammoniacal silver only stops, once, by a making safe.",
    ),
    Refuse(name="clock_never_deleted", table=CLOCK, event="DELETE",
           sentence="A clock of ammoniacal silver is never deleted: it is made safe."),
    Refuse(name="clock_never_replaced", table=CLOCK, event="INSERT", sentence="A clock is never replaced.",
           condition=f"EXISTS (SELECT 1 FROM {CLOCK} old_row WHERE old_row.id = NEW.id)"),
    Refuse(name="clock_stops_after_it_starts", table=CLOCK, event="UPDATE", condition=f"{_DONE} < NEW.started_at",
           sentence=_EARLY_SENTENCE),
    Refuse(name="stopped_clock_started_before", table=CLOCK, event="INSERT", condition=f"{_DONE} < NEW.started_at",
           sentence=_EARLY_SENTENCE),
    Refuse(name="no_clock_starts_in_a_closed_trial", table=CLOCK, event="INSERT", condition=_closed("NEW.trial_id"),
           sentence="This trial is closed: nothing is mixed for it."),
    *append_only(RECORD, "A record of a trial"),
    # what comes late is kept with the reason why it is not taken
    Refuse(name="nothing_is_recorded_of_a_closed_trial", table=RECORD, event="INSERT",
           condition=f"NEW.why = '' AND NEW.kind <> 'note' AND {_closed('NEW.trial_id')}",
           sentence="This trial is closed: nothing more is recorded of it."),
    Refuse(
        name="trial_closes_settled", table=TRIAL, event="UPDATE",
        condition=(
            f"OLD.closed_at IS NULL AND NEW.closed_at IS NOT NULL AND EXISTS (SELECT 1 FROM {RECORD} late "
            "WHERE late.trial_id = NEW.id AND late.why <> '' AND late.kind <> 'settled' AND late.at <= NEW.closed_at "
            f"AND NOT EXISTS (SELECT 1 FROM {RECORD} settled WHERE settled.settles = late.key))"
        ),
        sentence="Something sent from the bench could not be taken: say what became of it first.",
    ),
    *append_only("recipes_notmixed", "What a trial did not mix"),
    Refuse(name="nothing_is_said_of_a_closed_trials_mixes", table="recipes_notmixed", event="INSERT",
           condition=_closed("NEW.trial_id"), sentence="This trial is closed: what it mixed stays as it was said."),
    Refuse(
        name="what_was_mixed_is_not_said_not_to_be", table="recipes_notmixed", event="INSERT",
        condition=(f"EXISTS (SELECT 1 FROM {CLOCK} clock "
                   "WHERE clock.trial_id = NEW.trial_id AND clock.subject = NEW.subject AND clock.what = NEW.what)"),
        sentence="It was recorded as mixed: record that it was made safe.",
    ),
    Refuse(
        name="trial_closes_made_safe", table=TRIAL, event="UPDATE",
        condition=(
            "OLD.closed_at IS NULL AND NEW.closed_at IS NOT NULL AND EXISTS (SELECT 1 FROM "
            f"{CLOCK} clock WHERE clock.trial_id = NEW.id AND clock.made_safe_id IS NULL)"
        ),
        sentence="Ammoniacal silver of this trial still stands: record that it was made safe first.",
    ),
)
register(
    Refuse(
        name="ammoniacal_lot_is_taken_by_nobody", table="inventory_stockmovement", event="INSERT",
        condition=(
            # what a run had taken before anybody knew is still deducted; a count says what there is
            "NEW.quantity < 0 AND NEW.reverses_id IS NULL AND (NEW.kind IN ('discard', 'return', 'make-up out') "
            "OR EXISTS (SELECT 1 FROM inventory_posting posting WHERE posting.id = NEW.posting_id "
            "AND posting.kind = 'trial')) "
            f"AND EXISTS (SELECT 1 FROM {CLOCK} clock WHERE clock.lot_id = NEW.lot_id AND clock.made_safe_id IS NULL)"
        ),
        sentence="This lot is ammoniacal silver that still stands: nobody takes of it before it was made safe.",
    ),
    Refuse(
        name="what_a_clock_ran_for_is_not_undone", table="inventory_stockmovement", event="INSERT",
        condition=("NEW.reverses_id IS NOT NULL "
                   f"AND EXISTS (SELECT 1 FROM {CLOCK} clock WHERE clock.lot_id = NEW.lot_id)"),
        sentence="This lot is, or was, ammoniacal silver: nothing that was taken of it is undone.",
    ),
)

_OLDER_INSIDE = (
    "SELECT 1 FROM inventory_stockmovement came JOIN inventory_stockmovement went ON went.posting_id = came.posting_id "
    "JOIN inventory_lot newer ON newer.id = came.lot_id JOIN inventory_lot older ON older.id = went.lot_id "
    "WHERE came.lot_id = NEW.lot_id AND came.kind = 'make-up in' AND came.reverses_id IS NULL "
    "AND went.kind = 'make-up out' AND older.discard_at IS NOT NULL AND newer.discard_at IS NOT NULL "
    "AND newer.discard_at > older.discard_at"
)
register(
    *append_only("recipes_madelot", "What a lot mixed here is of"),
    Refuse(
        name="older_mix_bounds_the_newer", table="recipes_madelot", event="INSERT",
        condition=(
            f"EXISTS ({_OLDER_INSIDE}) AND EXISTS (SELECT 1 FROM {SOLUTION_VERSION} version "
            "WHERE version.id = NEW.solution_version_id AND version.longer_keeping_reason = '')"
        ),
        sentence="A mix is not kept past an older mix that went into it, unless its author wrote why.",
    ),
)
