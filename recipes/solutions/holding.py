"""Lots that must not be kept, once the truth about a material is entered: of it, or mixed with it. They stay held.

What turns out to be ammoniacal silver has a clock from its mixing on; nobody takes of it, and it leaves made safe.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import datetime
from uuid import NAMESPACE_URL, UUID, uuid4, uuid5

from django.db import transaction
from django.db.models import QuerySet

from recipes.clocks import ClockRefused, keeper, make_safe, start_clock, till_now
from recipes.facts import Shelf, SolutionFacts
from recipes.models import MakingSafe, SilverClock, SolutionVersion
from recipes.reading import shelf_for
from recipes.solutions.putting_in_use import solutions_with
from recipes.solutions.rules import findings, is_never_stored
from studio.house.clock import today
from studio.house.models import Person
from studio.kit.roles import May
from studio.stockroom.hazards.pairs import UNKNOWN
from studio.stockroom.hazards.standing import MIXED, OF_A_BOTTLE, none_of
from studio.stockroom.lots.keeping import discard, hold_lot
from studio.stockroom.models import Lot, LotLevel, Material

AMMONIACAL = (
    "It holds ammoniacal silver after all: never kept. Make it safe by the written procedure, then discard it; do not "
    "touch what has dried."
)


#: how a clock is kept that was started by a class that proved wrong
NOTHING_TREATED = [none_of("leftovers")]


def why_not_kept(facts: SolutionFacts, shelf: Shelf) -> str:
    """Return why what is mixed of a solution must not be kept; nothing where it may. What is merely unread is not held.
    """
    if is_never_stored(facts.key, shelf):
        return AMMONIACAL
    stops = [found for found in findings(facts, shelf) if found.pair and found.pair != UNKNOWN.name and found.stops]
    return stops[0].sentence[:200] if stops else ""


def reasons_not_kept(versions: Iterable[SolutionVersion]) -> dict[int, str]:
    """Return why, by the id of each version whose lots must not be kept."""
    versions = list(versions)
    shelf = shelf_for([version.pk for version in versions], today())
    found = {version.pk: why_not_kept(shelf.solutions[version.key], shelf) for version in versions}
    return {pk: why for pk, why in found.items() if why}


def hold_lots_touched_by(material: Material, by: Person | None) -> None:
    """Hold the lots on hand of every solution that a material, at any depth, makes one that must not be kept.

    Those of a material that is ammoniacal silver by itself are held too, empty ones as well: a posting may be reversed.

    The clock of those that are ammoniacal silver starts with their mixing, whoever holds them already.
    by: who entered it; where a program did, the first owner.
    """
    versions = SolutionVersion.objects.filter(pk__in=solutions_with(material)).select_related("solution")
    reasons = reasons_not_kept(versions)
    lots = [(lot, reasons[lot.made.solution_version_id]) for lot in Lot.objects.filter(
        made__solution_version__in=reasons, level__on_hand__gt=0).select_related("made", "material", "level")]
    if material.is_ammoniacal_silver:
        bottles = Lot.objects.filter(material=material).select_related("material", "level")
        lots = [(lot, AMMONIACAL) for lot in bottles] + [two for two in lots if two[0].material_id != material.pk]
    who = keeper(by)
    for lot, why in lots:
        if why == AMMONIACAL and who is not None and lot.level.on_hand > 0:
            start_lot_clock(lot, who)
        if lot.is_held:
            continue
        if who is None:
            Lot.objects.filter(pk=lot.pk).update(state=Lot.State.HELD, hold_reason=why)
        else:
            hold_lot(key=uuid4(), lot=lot, by=who, why=why)


def start_lot_clock(lot: Lot, by: Person) -> None:
    """Start the clock of a lot that is ammoniacal silver after all, when it was mixed or came; once for each lot."""
    first = lot.movements.select_related("posting").order_by("posting__at").first()
    mixed = lot.made_at or (first.posting.at if first else None)
    key = uuid5(NAMESPACE_URL, f"silvering-daybook:clock-of-lot:{lot.material.code}:{lot.lot_number}")
    newest = lot.silver_clocks.select_related("made_safe").order_by("-pk").first()
    if newest is not None and newest.made_safe and newest.made_safe.treated == NOTHING_TREATED:
        key = uuid4()  # released since as harmless, which it was not
    what = f"{lot.material.name}, {'mixed ahead' if lot.made_here else 'as delivered'}"
    start_clock(key=key, by=by, subject="lot", what=what, began=MIXED, lot=lot, done_at=mixed and till_now(mixed))


def why_stays_held(lot: Lot) -> str:
    """Return why a held lot is not released: what it was mixed of must not be kept, or it was made safe."""
    safe = MakingSafe.objects.filter(clocks__lot=lot).exclude(treated=NOTHING_TREATED).first()
    if safe is not None:
        return f"It was {safe}: discard it."
    return _why_not_kept_of(lot)


def _why_not_kept_of(lot: Lot) -> str:
    if lot.material.is_ammoniacal_silver:
        return AMMONIACAL
    made = getattr(lot, "made", None)
    return "" if made is None else next(iter(reasons_not_kept([made.solution_version]).values()), "")


def standing_in(lot: Lot) -> SilverClock | None:
    """Return the clock that runs of a lot; None where it is no ammoniacal silver, or made safe."""
    return lot.silver_clocks.filter(made_safe=None).first()


def why_not_out(lot: Lot) -> str:
    """Return why nothing of a lot is discarded or returned: it is ammoniacal silver and not made safe yet."""
    return f"{lot} is ammoniacal silver: make it safe by the written procedure first." if standing_in(lot) else ""


def why_not_back(lot: Lot) -> str:
    """Return why nothing that was taken of a lot comes back: a clock of ammoniacal silver ran for it."""
    if not SilverClock.objects.filter(lot=lot).exists():
        return ""
    return f"{lot} is, or was, ammoniacal silver: what was made safe or discarded of it does not come back."


def why_taken_by_nobody(lot: Lot) -> str:
    """Return why nothing is taken of a lot, whoever asks and whatever the reason: it is, or was, ammoniacal silver."""
    if standing_in(lot) or _why_not_kept_of(lot) == AMMONIACAL:
        return (f"{lot} is ammoniacal silver: nobody takes of it. Make it safe by the written procedure, then discard "
                "it.")
    if lot.is_held and MakingSafe.objects.filter(clocks__lot=lot).exists():
        return f"{lot} was made safe: nobody takes of it. Discard it."
    return ""


@transaction.atomic
def make_lot_safe(
    *, key: UUID, lot: Lot, by: Person, procedure: str, treated: Collection[str], done_at: datetime | None = None,
) -> MakingSafe:
    """Record that what is left of a lot was made safe, and discard all of it: both or neither, once for each key.

    Raises ClockRefused where it does not stand.
    """
    known = MakingSafe.objects.filter(key=key).first()
    if known is not None:
        return known
    clock = SilverClock.objects.filter(lot=lot).order_by("-pk").first()
    if clock is None:
        raise ClockRefused(f"{lot} is no ammoniacal silver that anybody knows of.")
    safe = make_safe(key=key, by=by, clocks=[clock.pk], procedure=procedure, treated=treated, owed=OF_A_BOTTLE,
                     done_at=done_at)
    left = LotLevel.objects.get(lot=lot).on_hand
    if left > 0:
        discard(key=uuid5(NAMESPACE_URL, f"silvering-daybook:discarded:{key}"), lot=lot, by=by, amount=left,
                why=f"{safe}, {safe.procedure}")
    return safe


def stop_clock_of_released(lot: Lot, by: Person, why: str) -> None:
    """Stop the clock of a lot that is released: the owner says why it is no ammoniacal silver after all.

    A lot that is one by what is known today is not released at all.
    """
    clock = standing_in(lot)
    if clock is None:
        return
    if not by.may(May.OVERRULE):
        raise ClockRefused(f"{lot} stood as ammoniacal silver: only the owner releases it, and says why.", "why")
    make_safe(key=uuid4(), by=by, clocks=[clock.pk], procedure=f"no ammoniacal silver after all: {why}",
              treated=NOTHING_TREATED, owed=())


def _not_to_be_kept(lots: QuerySet[Lot]) -> list[tuple[Lot, str]]:
    """Return which of some lots on hand must not be kept, and why: of ammoniacal silver itself, or mixed of what stops.
    """
    rows = list(lots.filter(level__on_hand__gt=0).select_related("material", "made__solution_version__solution"))
    made = [lot for lot in rows if hasattr(lot, "made") and not lot.material.is_ammoniacal_silver]
    reasons = reasons_not_kept({lot.made.solution_version for lot in made})
    bottles = [(lot, AMMONIACAL) for lot in rows if lot.material.is_ammoniacal_silver]
    return bottles + [(lot, reasons[lot.made.solution_version_id]) for lot in made
                      if lot.made.solution_version_id in reasons]


def lots_made_safe_at(lots: Collection[Lot]) -> datetime | None:
    """Return when all that stood of some lots was made safe; None while any stands, or where none did."""
    clocks = [clock for clock in SilverClock.objects.filter(lot__in=lots).select_related("made_safe")
              if clock.made_safe is None or clock.made_safe.treated != NOTHING_TREATED]
    done = [clock.made_safe.done_at for clock in clocks if clock.made_safe is not None]
    return max(done) if done and len(done) == len(clocks) else None


def lots_without_a_clock() -> list[Lot]:
    """Return every lot on hand that is ammoniacal silver and has no clock, for the audit."""
    return [lot for lot, why in _not_to_be_kept(Lot.objects.filter(silver_clocks=None)) if why == AMMONIACAL]


def kept_against_the_rules() -> list[tuple[Lot, str]]:
    """Return every lot on hand that is not held, though it must not be kept, and why, for the audit."""
    return _not_to_be_kept(Lot.objects.filter(state=Lot.State.USABLE))
