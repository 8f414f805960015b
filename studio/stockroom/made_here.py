"""What is in lots made here, by the version they were made of: the recipe library says it, the stockroom only asks."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction

from studio.stockroom.hazards.classes import REACTS_AS, UNCLASSED, is_ammoniacal_silver
from studio.stockroom.hazards.statements import PICTOGRAMS, LabelElements
from studio.stockroom.models import Lot, Material


@dataclass(frozen=True, kw_only=True)
class MadeOf:
    """What is in a lot made here, at any depth. silver_g_per_ml: None where nobody can say.

    unknown: what of it nobody has classed. changed_because: why its author gave the mix hazards of its own.
    """

    classes: frozenset[str]
    label: LabelElements
    silver_g_per_ml: Fraction | None = Fraction(0)
    unknown: tuple[str, ...] = ()
    changed_because: str = ""

    @property
    def classes_in_words(self) -> str:
        return ", ".join(sorted(REACTS_AS[code] for code in self.classes))

    @property
    def pictograms_in_words(self) -> str:
        return ", ".join(PICTOGRAMS[code] for code in self.label.pictograms)


#: the room that makes lots here says what is in them, by lot id
WHAT_IS_IN: list[Callable[[Collection[Lot]], dict[int, MadeOf]]] = []


#: the room that keeps clocks says when all ammoniacal silver of some lots was made safe; None while any stands
MADE_SAFE_AT: list[Callable[[Collection[Lot]], datetime | None]] = []


def made_safe_at(lots: Collection[Lot]) -> datetime | None:
    """Return when the ammoniacal silver of some lots was made safe, by record; None where no record says so."""
    return next(filter(None, (room(lots) for room in MADE_SAFE_AT)), None)


def what_is_in(lots: Collection[Lot]) -> dict[int, MadeOf]:
    """Return what is in those of some lots that were made here, by lot id. No query where none was."""
    made = [lot for lot in lots if lot.made_here]
    found: dict[int, MadeOf] = {}
    for room in WHAT_IS_IN if made else ():
        found |= room(made)
    return found


def is_ammoniacal(lot: Lot, made_of: MadeOf | None) -> bool:
    """Say whether a lot is ammoniacal silver by what is known of what is in it."""
    inside = made_of.classes if made_of is not None else frozenset()
    return is_ammoniacal_silver(lot.material.known_classes | inside)


def classes_of_lots(lots: Collection[Lot]) -> dict[int, frozenset[str]]:
    """Return what each lot reacts as, by lot id: as its material does, and as all does that is in it."""
    inside = what_is_in(lots)
    return {
        lot.pk: lot.material.known_classes | (inside[lot.pk].classes if lot.pk in inside else frozenset())
        for lot in lots
    }


def classes_on_shelf(materials: Iterable[Material]) -> dict[int, frozenset[str]]:
    """Return what each material on the shelf reacts as, by its id; of a solution, all that its lots on hand hold.

    `unclassed` is among it where nobody has classed it, or something in it.
    """
    found: dict[int, frozenset[str]] = {}
    solutions = []
    for material in materials:
        found[material.pk] = material.known_classes | ({UNCLASSED} if material.is_unclassed else frozenset())
        if not material.is_received:
            solutions.append(material.pk)
    if solutions:
        rows = Lot.objects.filter(material__in=solutions, level__on_hand__gt=0).select_related("material")
        by_material: dict[int, set[str]] = defaultdict(set)
        inside = what_is_in(list(rows))
        for lot in rows:
            if lot.pk in inside:
                made = inside[lot.pk]
                by_material[lot.material_id] |= made.classes | ({UNCLASSED} if made.unknown else frozenset())
        found |= {pk: found[pk] | frozenset(more) for pk, more in by_material.items()}
    return found


def silver_in(lot: Lot, inside: MadeOf | None) -> Fraction | None:
    """Return g of silver in a stock unit of a lot: as its material says, or by what is in it; None: nobody can say."""
    own = Fraction(lot.material.silver_g_per_unit)
    return own if own or inside is None else inside.silver_g_per_ml
