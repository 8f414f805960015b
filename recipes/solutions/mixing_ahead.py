"""Mix a solution ahead: its ingredients out of their lots, a lot of it onto the shelf, the cost carried over.

Never one that holds a silver salt and ammonia, at any depth, whoever asks; nor one that is used at once.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from recipes.facts import Shelf
from recipes.models import MadeLot, Solution, SolutionVersion
from recipes.reading import shelf_for
from recipes.solutions.bench_card import BenchCard, bench_card
from recipes.solutions.putting_in_use import check_solution_version, freeze_solutions, give_place_on_shelf
from recipes.solutions.rules import NeverStored, agents_within, check_may_be_stored, discard_at
from studio.exact import MONEY_DECIMALS, STOCK_DECIMALS
from studio.house.clock import house_zone, now
from studio.house.models import Person
from studio.kit.errors import DaybookError
from studio.kit.keeping_times import lasting
from studio.kit.locks import TRIES, tried_three_times
from studio.kit.rounding import as_decimal
from studio.kit.typed_numbers import whole_number
from studio.stockroom.ledger import LedgerError, Movement, NotEnough, lock_levels, post
from studio.stockroom.materials import check_place
from studio.stockroom.models import Lot, Material, Posting, StockMovement
from studio.stockroom.picking import pick
from studio.stockroom.shelf import as_on_shelf

_COUNTED = re.compile(r"\d+")


class CannotBeKept(DaybookError):
    """A solution that is not mixed ahead."""


class KeyTaken(DaybookError):
    """A form came with the key of something else that was posted; nothing was saved."""

    def __init__(self) -> None:
        super().__init__("The key of this form belongs to something else that was saved: open the page again and send "
                         "it from there.")


def made_with(key: UUID) -> Lot | None:
    """Return the lot that a form with this key put on the shelf, if it was sent before. Raises KeyTaken."""
    known = Posting.objects.filter(key=key).first()
    if known is None:
        return None
    made = known.movements.filter(kind=StockMovement.Kind.MAKE_UP_IN).select_related("lot").first()
    if made is None:
        raise KeyTaken
    return made.lot


def place_on_shelf(solution: Solution, version: SolutionVersion, shelf: Shelf) -> Material:
    """Return the material that a solution's lots are of, made when it has none. Raises NeverStored."""
    check_may_be_stored(shelf.solutions[version.key], shelf)
    if solution.material is not None:
        if solution.material.is_ammoniacal_silver:  # its owner says so, whatever its ingredients tell
            raise NeverStored(solution.name)
        return solution.material
    taken = Material.objects.filter(name=solution.name).exists()
    material = Material(
        name=f"{solution.name}, made here"[:80] if taken else solution.name, kind=Material.Kind.SOLUTION,
        stock_unit=Material.StockUnit.MILLILITRE, liquid=True, reacts_as=sorted(agents_within(version.key, shelf)),
    )
    material.full_clean()
    material.save()
    give_place_on_shelf(solution, material)
    solution.material = material
    return material


def _needed(card: BenchCard, shelf_places: dict[str, Material], free: dict[int, Fraction]) -> dict[str, Fraction]:
    """Return what is taken of each material, by code: of a nested solution its lots mixed ahead where they hold enough,
    else its own ingredients.
    """
    needed: dict[str, Fraction] = defaultdict(Fraction)
    for row in card.rows:
        ingredient, amount = row.measured.ingredient, row.measured.amount
        if ingredient.material is not None:
            needed[ingredient.material] += amount
        elif row.inside is not None:
            place = shelf_places.get(ingredient.solution or "")
            if place is not None and free.get(place.pk, Fraction(0)) >= amount:
                free[place.pk] -= amount
                needed[place.code] += amount
            else:
                for code, more in _needed(row.inside, shelf_places, free).items():
                    needed[code] += more
    return {code: amount for code, amount in needed.items() if amount > 0}


def _is_of_these(lot: Lot, shelf: Shelf) -> bool:
    """Say whether a lot is bought, or made of just the version nested here: another version is another mix."""
    if lot.material.kind != Material.Kind.SOLUTION:
        return True
    made: MadeLot | None = getattr(lot, "made", None)
    return made is not None and made.solution_version.key in shelf.solutions


def _lot_number(day: date) -> str:
    """Return the next number of a day's mixes, whatever is mixed: M260503-1, then -2. None comes twice."""
    stem = f"M{day:%y%m%d}-"
    taken = Lot.objects.filter(lot_number__istartswith=stem).values_list("lot_number", flat=True)
    counted = (_COUNTED.match(number[len(stem):]) for number in taken)
    return f"{stem}{max((whole_number(found[0]) for found in counted if found), default=0) + 1}"


def _save_numbered(lot: Lot, day: date) -> None:
    """Save a new lot under the next free number; one that somebody else took meanwhile is passed over."""
    for left in reversed(range(TRIES)):
        lot.lot_number = _lot_number(day)
        try:
            lot.full_clean()
            with transaction.atomic():
                lot.save(force_insert=True)
            return
        except (IntegrityError, ValidationError):
            # another mix of the day took the number between reading and writing
            if not left or not Lot.objects.filter(lot_number=lot.lot_number).exists():
                raise


@tried_three_times
@transaction.atomic
def mix_ahead(
    *, key: UUID, by: Person, version: SolutionVersion, volume_ml: Fraction, day: date, at: datetime | None = None
) -> Lot:
    """Mix a volume of a keeping solution as it is written; return its lot. Once for each key, all or nothing.

    Raises NeverStored, CannotBeKept, NotEnough, KeyTaken, or what refuses the mix.
    """
    known = made_with(key)
    if known is not None:
        drawn = StockMovement.objects.filter(posting__key=key, kind=StockMovement.Kind.MAKE_UP_OUT)
        if known.made.solution_version_id != version.pk or not drawn.exists():  # a leftover draws on no lot
            raise KeyTaken
        return known
    moment, shelf = at or now(), shelf_for([version.pk], day)
    solution = _locked(version)
    own_place = _check_and_place(version, solution, shelf)
    card = bench_card(version.key, volume_ml, Fraction(1), shelf, Fraction(0))
    nested = {row.key: row.solution.material for row in SolutionVersion.objects.filter(
        solution__material__isnull=False).select_related("solution__material") if row.key in shelf.solutions}
    places = {key: place for key, place in nested.items() if place is not None}
    codes = {*shelf.materials, *(place.code for place in places.values())}
    standing = Lot.objects.filter(material__code__in=codes, level__on_hand__gt=0)
    lock_levels(list(standing.values_list("pk", flat=True)))
    lots = [lot for lot in standing.select_related("material", "level", "made__solution_version__solution")
            if _is_of_these(lot, shelf)]
    free: dict[int, Fraction] = defaultdict(Fraction)
    for lot in lots:
        if as_on_shelf(lot, moment).usable_on(day):
            free[lot.material_id] += Fraction(lot.level.on_hand)
    movements = _out(_needed(card, places, free), lots, day, moment)
    cost = sum((-movement.quantity * movement.unit_cost for movement in movements), Decimal(0))
    inside = [movement.lot.ends_at for movement in movements if movement.lot.made_here]
    ends = discard_at(shelf.solutions[version.key], shelf, moment, inside)
    lot = _lot_of(own_place, version, volume_ml, cost, day, moment, ends)
    freeze_solutions([version.pk], moment)
    post(key=key, kind=Posting.Kind.MAKE_UP, by=by, at=moment, why=f"Mixed {version}", movements=[
        *movements,
        Movement(lot=lot, kind=StockMovement.Kind.MAKE_UP_IN, quantity=lot.quantity_received, unit_cost=lot.unit_cost),
    ])
    _made_of(lot, version)
    return lot


@transaction.atomic
def keep_leftover(
    *, key: UUID, by: Person, version: SolutionVersion, volume_ml: Fraction, mixed_at: datetime, why: str,
    inside: Iterable[datetime | None] = (), at: datetime | None = None,
) -> Lot:
    """Put what is left of a run's keeping mix on the shelf as a lot; its cost stays with the job.

    Its clock is that of the mix, from its time of mixing. inside: until when the older mixes in it are used.
    Raises NeverStored, CannotBeKept, KeyTaken. Once for each key.
    """
    known = made_with(key)
    if known is not None:
        return known
    moment = at or now()
    day = mixed_at.astimezone(house_zone()).date()
    shelf = shelf_for([version.pk], day)
    solution = _locked(version)
    place = _check_and_place(version, solution, shelf)
    ends = discard_at(shelf.solutions[version.key], shelf, mixed_at, inside)
    if ends is not None and ends <= moment:
        raise CannotBeKept(
            f"{version} was mixed on {_in_words(mixed_at)} and was to be discarded by {_in_words(ends)}: none of it is "
            "kept.", "volume",
        )
    lot = _lot_of(place, version, volume_ml, Decimal(0), day, mixed_at, ends)
    freeze_solutions([version.pk], moment)
    post(key=key, kind=Posting.Kind.MAKE_UP, by=by, at=moment, why=why[:200], movements=[
        Movement(lot=lot, kind=StockMovement.Kind.MAKE_UP_IN, quantity=lot.quantity_received, unit_cost=lot.unit_cost),
    ])
    _made_of(lot, version)
    return lot


def _in_words(moment: datetime) -> str:
    return f"{moment.astimezone(house_zone()):%d %b %Y, %H:%M}"


def _locked(version: SolutionVersion) -> Solution:
    """Return the solution, locked. Its material is read afterwards: PostgreSQL reads a locked row anew once the
    lock is had, but not the rows joined to it, so that a place made meanwhile would look missing.
    """
    return Solution.objects.select_for_update().get(pk=version.solution_id)


def _check_and_place(version: SolutionVersion, solution: Solution, shelf: Shelf) -> Material:
    check_may_be_stored(shelf.solutions[version.key], shelf)
    if version.keeps_minutes is None:
        raise CannotBeKept(f"{version} is used at once: it is not mixed ahead.")
    check_solution_version(version)
    return place_on_shelf(solution, version, shelf)


def _out(needed: dict[str, Fraction], lots: list[Lot], day: date, moment: datetime) -> list[Movement]:
    """Pick every material, first expired first out. Raises NotEnough."""
    by_pk = {lot.pk: lot for lot in lots}
    movements = []
    for material in Material.objects.filter(code__in=needed).order_by("pk"):
        amount = as_decimal(needed[material.code], STOCK_DECIMALS)
        mine = [as_on_shelf(lot, moment) for lot in lots if lot.material_id == material.pk]
        picks, missing = pick(amount, mine, day)
        if missing > 0:
            kept_back = [f"lot {lot.lot_number} ({lot.why_not(day)})" for lot in mine if not lot.usable_on(day)]
            raise NotEnough(material, amount, missing, kept_back)
        movements += [
            Movement(lot=by_pk[picked.lot_id], kind=StockMovement.Kind.MAKE_UP_OUT, quantity=-picked.amount,
                     unit_cost=by_pk[picked.lot_id].unit_cost)
            for picked in picks
        ]
    return movements


def _lot_of(
    place: Material, version: SolutionVersion, volume_ml: Fraction, cost: Decimal, day: date, made_at: datetime,
    ends: datetime | None,
) -> Lot:
    if volume_ml <= 0:
        raise LedgerError("Mix more than nothing.", "volume")
    if ends is None or ends <= made_at:
        raise CannotBeKept(f"{version} would have to be discarded at once: what goes into it is past its time.")
    lot = Lot(
        material=place,
        received_on=day,
        made_here=True,
        made_at=made_at,
        discard_at=ends,
        quantity_received=as_decimal(volume_ml, STOCK_DECIMALS),
        cost_with_carriage=as_decimal(Fraction(cost), MONEY_DECIMALS),
        expires_on_given=ends.astimezone(house_zone()).date(),
    )
    _save_numbered(lot, day)
    return lot


def _made_of(lot: Lot, version: SolutionVersion) -> None:
    """Say of what a lot was made, once its posting says from which lots: the database then knows what bounds it.

    Raises DeadlyTogether where it must not stand.
    """
    assert lot.made_at is not None
    ready = lot.made_at + lasting(Fraction(version.ready_after_minutes)) if version.ready_after_minutes else None
    MadeLot.objects.create(lot=lot, solution_version=version, ready_at=ready)
    check_place(lot.material)
