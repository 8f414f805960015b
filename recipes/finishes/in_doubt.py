"""Versions in doubt: put in use as sound, against which a stop stands by what is known today.

Nothing new is quoted, booked or printed from them until they are sound again; what stands already is recorded and
finished.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from hashlib import sha256

from django.db.models import Count, Max, Q

from recipes.facts import RecipeFacts, Shelf
from recipes.finishes.bench_rules import UNCLASSED_RULE, Finding, walk
from recipes.finishes.putting_in_use import NoProcedure, check_by_the_house
from recipes.models import Finish, RecipeVersion, Solution, VersionEvent
from recipes.reading import ANY_DAY, recipe_facts
from studio.house.models import GunCalibration, House
from studio.kit.asking import among, as_kept_rows
from studio.kit.errors import DaybookError
from studio.kit.typed_numbers import whole_number
from studio.stockroom.models import Material


class InDoubt(DaybookError):
    """A version in use that is not sound by what is known today."""

    def __init__(self, sentences: Iterable[str]) -> None:
        super().__init__(f"{' '.join(sentences)} Until it is sound again nothing new is made of it; what is open is "
                         "recorded and finished.")


#: what the studio's own settings ask, beside the bench rules
PROCEDURE_RULE = "a making-safe procedure is written"
#: rules of the order of steps alone, which no truth about a material or the studio brings
_OF_STEPS_ALONE = frozenset({
    "cleaning comes first", "sensitiser is rinsed off", "silver is rinsed before drying or antiquing",
    "used at once is not kept",
})


@dataclass(frozen=True, kw_only=True)
class Against:
    """What stands against a recipe by what is known today. Whoever asks for a doubt, or writes its mark, asks here."""

    recipe: RecipeFacts
    stops: tuple[Finding, ...]
    cautions: tuple[Finding, ...]
    #: what the studio's own settings refuse, in a sentence
    by_the_house: str

    @property
    def is_sound(self) -> bool:
        return not (self.stops or self.by_the_house)

    @property
    def only_unclassed(self) -> bool:
        """Say whether nothing is broken, but something is not known yet."""
        return (not self.is_sound and not self.by_the_house
                and all(stop.rule == UNCLASSED_RULE for stop in self.stops))

    @property
    def first(self) -> str:
        """Return what stands against it first, with its step: what is broken before what nobody has classed."""
        if not self.stops:
            return self.by_the_house
        stop = min(self.stops, key=lambda found: found.rule == UNCLASSED_RULE)
        return f"step {stop.step}, {stop.sentence}"

    @property
    def doubt(self) -> str:
        """Return the doubt in a sentence that names the version; nothing where it is sound."""
        if self.is_sound:
            return ""
        return f"{self.recipe.finish}, version {self.recipe.version_number}, is in doubt: {self.first}"

    def rules(self, acknowledged: Iterable[str]) -> list[str]:
        """Return by name what a mark holds: stops, the studio's own, and the cautions that nobody acknowledged."""
        house = {PROCEDURE_RULE} if self.by_the_house else set()
        return sorted({found.rule for found in (*self.stops, *self.unacknowledged(acknowledged))} | house)

    def unacknowledged(self, acknowledged: Iterable[str]) -> list[Finding]:
        known = set(acknowledged)
        return [found for found in self.cautions if found.rule not in known]

    def why(self, acknowledged: Iterable[str]) -> str:
        """Return all of that in sentences."""
        found = [f"Step {found.step}: {found.sentence}" for found in (*self.stops, *self.unacknowledged(acknowledged))]
        return " ".join([*found, *([self.by_the_house] if self.by_the_house else [])])


def against(recipe: RecipeFacts, shelf: Shelf, house: House | None = None) -> Against:
    """Return what stands against a recipe today. house: the studio's settings, where somebody read them already."""
    found, by_the_house = walk(recipe, shelf), ""
    try:
        check_by_the_house(recipe, shelf, house)
    except NoProcedure as refusal:
        by_the_house = str(refusal)
    return Against(
        recipe=recipe, by_the_house=by_the_house, stops=tuple(one for one in found if one.stops),
        cautions=tuple(one for one in found if not one.stops),
    )


def may_come_by_truth(stop: Finding) -> bool:
    """Say whether what is entered about a material or the studio can bring a stop, after its version was in use."""
    return stop.rule not in _OF_STEPS_ALONE


def doubt_of(recipe: RecipeFacts, shelf: Shelf, house: House | None = None) -> str:
    """Return what stands against a recipe, in a sentence that names it; nothing where it is sound."""
    return against(recipe, shelf, house).doubt


def refuse_doubts(recipes: Iterable[RecipeFacts], shelf: Shelf) -> None:
    """Refuse recipes that are not sound, as they are read today. Raises InDoubt."""
    house = House.objects.first()
    doubts = [doubt for recipe in recipes if (doubt := doubt_of(recipe, shelf, house))]
    if doubts:
        raise InDoubt(doubts)


def doubts_of(keys: Iterable[str]) -> dict[str, str]:
    """Return the doubts about recipe versions named by key, by what is known today."""
    named = Q()
    for key in set(keys):
        code, _, number = key.rpartition("/")
        named |= Q(finish__code=code, number=whole_number(number))
    if not named:
        return {}
    recipes, shelf = recipe_facts(RecipeVersion.objects.filter(named).values_list("pk", flat=True), ANY_DAY)
    house = House.objects.first()
    return {key: doubt for key, recipe in recipes.items() if (doubt := doubt_of(recipe, shelf, house))}


def check_sound(keys: Iterable[str]) -> None:
    """Refuse recipe versions, named by key, that are not sound by what is known today. Raises InDoubt."""
    doubts = doubts_of(keys)
    if doubts:
        raise InDoubt(doubts.values())


def against_versions(versions: Iterable[RecipeVersion]) -> list[tuple[RecipeVersion, Against]]:
    """Return what stands against recipe versions today. Fetch their finishes; the number of queries is fixed."""
    rows = {row.key: row for row in versions}
    recipes, shelf = recipe_facts([row.pk for row in rows.values()], ANY_DAY)
    house = House.objects.first()
    return [(rows[key], against(recipe, shelf, house)) for key, recipe in recipes.items()]


def against_those_in_use() -> list[tuple[RecipeVersion, Against]]:
    """Return every version in use with what stands against it today. The number of queries is fixed."""
    return against_versions(RecipeVersion.objects.in_use().select_related("finish").distinct())


#: what was found of all versions in use, by the mark of what it rests on: the newest alone
_KNOWN: dict[str, list[tuple[int, str]]] = {}


def versions_in_doubt() -> list[tuple[RecipeVersion, str]]:
    """Return every version in use that is not sound today, with why. The number of queries is fixed.

    Today asks it at every opening, and nothing of it changes until a material, the studio's settings, a name or a
    version in use does: what was found is kept until then. What refuses asks afresh (`refuse_doubts`).
    """
    mark = _rests_on()
    known = _KNOWN.get(mark)
    if known is None:
        known = [(version.pk, one.doubt) for version, one in against_those_in_use() if not one.is_sound]
        forget_what_was_found()
        _KNOWN[mark] = known
    rows = {row.pk: row for row in among(RecipeVersion.objects.select_related("finish"), "pk", [pk for pk, _ in known])}
    return [(rows[pk], doubt) for pk, doubt in known]


def forget_what_was_found() -> None:
    """Work out anew what is in doubt when it is asked next."""
    _KNOWN.clear()


def _rests_on() -> str:
    """Return the mark of all that a doubt about a version in use rests on: what is in use is frozen itself."""
    events = VersionEvent.objects.aggregate(rows=Count("pk"), last=Max("pk"), at=Max("at"))
    rows: list[object] = [
        *sorted(events.items()), *as_kept_rows(Material.objects.order_by("pk").values_list()),
        *House.objects.values_list(), *Finish.objects.order_by("pk").values_list("pk", "code", "name"),
        *Solution.objects.order_by("pk").values_list("pk", "code", "name"), *GunCalibration.objects.values_list("pk"),
    ]
    return sha256(repr(rows).encode()).hexdigest()
