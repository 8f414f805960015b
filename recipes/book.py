"""The library's part of a book: solutions, finishes with their recipes, trials; and the rules at reading."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from recipes.finishes.bench_rules import BenchRulesStop
from recipes.finishes.in_doubt import PROCEDURE_RULE, against, may_come_by_truth
from recipes.finishes.putting_in_use import NoProcedure, NotAcknowledged
from recipes.models import (
    Finish,
    FinishPicture,
    Ingredient,
    MadeLot,
    MakingSafe,
    NotMixed,
    Part,
    RecipeVersion,
    RemovedStep,
    SilverClock,
    Solution,
    SolutionVersion,
    Step,
    Trial,
    TrialChange,
    TrialNote,
    TrialPhotograph,
    TrialRecord,
    TrialTiming,
    TrialUse,
    TriedAgainst,
    VersionDoubt,
    VersionEvent,
)
from recipes.reading import ANY_DAY, recipe_facts
from recipes.solutions.forms import ingredient_question
from recipes.solutions.putting_in_use import check_as_read
from studio.kit.book import CODE, COUNT, KEY, Section, by
from studio.kit.keeping_times import keeping_question
from studio.kit.pane_sizes import refuse_no_pane


def nested_first(versions: list[SolutionVersion]) -> list[SolutionVersion]:
    """Return solution versions so that what is nested in one comes before it: they are frozen in this order."""
    rows = {version.pk: version for version in versions}
    holds: dict[int, set[int]] = {pk: set() for pk in rows}
    nested = Ingredient.objects.filter(nested__isnull=False).order_by("pk")
    for outer, inner in nested.values_list("solution_version_id", "nested_id"):
        if outer in rows and inner in rows:
            holds[outer].add(inner)
    ordered: dict[int, SolutionVersion] = {}
    while ready := [pk for pk in rows if pk not in ordered and holds[pk] <= ordered.keys()]:
        ordered |= {pk: rows[pk] for pk in ready}
    return [*ordered.values(), *(row for pk, row in rows.items() if pk not in ordered)]


def refuse_what_stops(event: VersionEvent, entry: dict[str, Any]) -> None:
    """Refuse to put in use what a stop, or a caution nobody acknowledged, stands against.

    A mark of doubt lets in the rules that it names, and stops that a truth may have brought since; all else is asked.
    Raises BenchRulesStop, NoProcedure or NotAcknowledged.
    """
    if event.kind != VersionEvent.Kind.IN_USE:
        return
    version = event.recipe_version
    mark = VersionDoubt.objects.filter(recipe_version=version).first()
    named = set(mark.rules) if mark else set()
    recipes, shelf = recipe_facts([version.pk], ANY_DAY)
    found = against(recipes[version.key], shelf)
    stops = [stop for stop in found.stops
             if stop.rule not in named and not (mark and mark.stops and may_come_by_truth(stop))]
    if stops:
        raise BenchRulesStop(recipes[version.key], stops)
    if found.by_the_house and PROCEDURE_RULE not in named:
        raise NoProcedure
    unknown = found.unacknowledged({*event.acknowledged, *named})
    if unknown:
        raise NotAcknowledged(unknown)


def refuse_too_much(ingredient: Ingredient, entry: dict[str, Any]) -> None:
    """Refuse more than a litre holds; what is only unusual is listed once the book is read. Raises CannotBe."""
    if not ingredient.make_up:
        ingredient_question(ingredient)


def check_solution(version: SolutionVersion) -> None:
    """Refuse a solution version that breaks a rule unmarked, or is said to keep as long as nothing does."""
    keeping_question(Fraction(version.keeps_minutes or 0))
    check_as_read(version)


_INGREDIENTS = Section(
    name="ingredients", model=Ingredient, parent="solution_version", unit="unit",
    words="""
        number material nested=solution amount_per_litre=amount_per_litre:stock unit typed scales_with_strength
        make_up instruction
        end_point
    """,
    unsaid={"scales_with_strength": False}, ready=refuse_too_much,
    extra={"oneOf": [{"required": ["material"]}, {"required": ["solution"]}]},
)
_SOLUTIONS = Section(
    name="solutions", model=Solution, order=("code",), words="code name material=shelf_place",
    lists=(Section(
        name="versions", model=SolutionVersion, parent="solution", named=by("key", KEY, "solution"),
        words="""
            number keeps_minutes=keeps:min works_at_once ready_after_minutes=ready_after:min
            minimum_batch_ml=minimum_batch:mL mixing_minutes=mixing:min working_minutes=works_for:min
            reject_if longer_keeping_reason own_hazard_statements hazard_change_reason cautions why typed frozen_at
        """,
        checked=check_solution, later={"frozen_at": ""}, innermost_first=nested_first,
        lists=(
            _INGREDIENTS,
            Section(name="in_doubt", model=VersionDoubt, parent="solution_version", words="why since", single=True),
            Section(name="made_lots", model=MadeLot, parent="solution_version", words="lot ready_at"),
        ),
    ),),
)
_STEPS = Section(
    name="steps", model=Step, parent="recipe_version",
    words="""
        number kind name how coats coverage_ml_per_m2=coverage:mL/m2 gun overspray_mm=overspray:mm
        zone rim_width_mm=rim_width:mm zone_share
        extra_per_pane_ml=extra_per_pane:mL overspill_share loss_per_load_ml=loss_per_load:mL
        dwell_minutes=dwell:min dwell_attended dwell_counted motion pane_lies drying rinse_full rinse_collected
        rinse_water surface_before harshness minutes_per_load=time_per_load:min minutes_per_pane=time_per_pane:min
        minutes_per_m2=time_per_m2:min hands temperature_low_c temperature_high_c instructions looks_good cautions typed
    """,
    lists=(Section(name="parts", model=Part, parent="step",
                   words="number solution_version=solution strength parts mixed_for typed"),),
)
_FINISHES = Section(
    name="finishes", model=Finish, order=("code",), named=by("code", CODE),
    words="""
        code name family description suits_glass has_direction typical_variation in_swatch_book
        swatch_place lead_time_days
    """,
    lists=(
        Section(name="pictures", model=FinishPicture, parent="finish", words="side file caption"),
        Section(
            name="versions", model=RecipeVersion, parent="finish", named=by("key", KEY, "finish"),
            words="number film_nm own_yield_share came_from came_from_trial why",
            later={"came_from": "", "came_from_trial": "trials"},
            lists=(
                _STEPS,
                Section(name="removed_steps", model=RemovedStep, parent="recipe_version", order=("pk",),
                        words="number name content by at put_back_by put_back_at"),
                Section(name="in_doubt", model=VersionDoubt, parent="recipe_version", words="why rules stops since",
                        unsaid={"stops": True}, single=True),
                # a recipe in use is frozen: all that changes it is read before
                Section(name="events", model=VersionEvent, parent="recipe_version", after="trials",
                        words="kind at by note acknowledged", ready=refuse_what_stops),
            ),
        ),
    ),
)
_TRIALS = Section(
    name="trials", model=Trial, ready=refuse_no_pane, order=("number",), named=by("number", COUNT),
    later={"closed_at": "silver_clocks"},
    words="""
        number recipe_version=recipe parent question started_at made_by width_mm=width:mm height_mm=height:mm size_text
        glass air_c glass_c solution_c humidity_share water conductivity_us_cm score verdict kept_where closed_at
        form_key
    """,
    lists=(
        Section(name="changes", model=TrialChange, parent="trial", words="step part what value"),
        Section(name="tried_against", model=TriedAgainst, parent="trial", words="step rule sentence because at by"),
        Section(name="notes", model=TrialNote, parent="trial", words="key at by text"),
        Section(name="timings", model=TrialTiming, parent="trial", words="key step seconds at by"),
        Section(name="photographs", model=TrialPhotograph, parent="trial", words="""
            key side original print_copy screen_copy aligned_copy crop_left crop_top crop_side at by
        """),
        Section(name="not_mixed", model=NotMixed, parent="trial", words="key subject what at by"),
        Section(name="records", model=TrialRecord, parent="trial", words="""
            key kind subject content why settles done_at done_by at by
        """),
        Section(name="postings", model=TrialUse, parent="trial", words="posting", bare=True),
    ),
)
_MAKINGS_SAFE = Section(name="makings_safe", model=MakingSafe, order=("done_at", "key"), named=by("key"),
                        words="key at by done_at procedure treated")
_CLOCKS = Section(name="silver_clocks", model=SilverClock, order=("started_at", "key"), named=by("key"), words="""
    key trial lot subject what began started_at noted_at noted_by made_safe
""")
SECTIONS = (_SOLUTIONS, _FINISHES, _TRIALS, _MAKINGS_SAFE, _CLOCKS)
