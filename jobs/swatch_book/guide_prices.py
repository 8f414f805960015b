"""Guide prices of the swatch book: each chosen finish at two typical sizes, from one basis."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from jobs.draft import DraftLine, OrderDraft
from jobs.estimating.basis import LineFacts
from jobs.estimating.estimate import estimate_basis
from jobs.estimating.refusals import EstimateError
from jobs.models import SwatchBook
from jobs.quotes.basis import basis_of
from recipes.models import Finish, RecipeVersion
from studio.house.clock import today
from studio.house.models import House, HouseRates
from studio.kit.asking import fetched
from studio.kit.errors import DaybookError
from studio.kit.rounding import as_decimal
from studio.kit.units import parse_size, show_size, size_unit

FT2_M2 = Fraction("0.09290304")


@dataclass(frozen=True, kw_only=True)
class GuidePrice:
    """One finish at one typical size: the price of a pane, and by area. Money without tax."""

    size: str
    each: Decimal
    by_area: Decimal


@dataclass(frozen=True, kw_only=True)
class Swatch:
    finish: Finish
    prices: tuple[GuidePrice, ...]
    refusal: str = ""


def swatch_book() -> tuple[SwatchBook, list[Swatch]]:
    """Return the swatch book: each chosen finish with a version in use, priced at both sizes.

    Every price is worked out from one basis, so that queries do not grow with the finishes.
    """
    book, _ = SwatchBook.objects.select_related("glass").get_or_create(id=1)
    chosen = fetched(Finish.objects.filter(in_swatch_book=True).order_by("swatch_place", "name"), "pictures__file")
    newest: dict[int, RecipeVersion] = {}
    for version in RecipeVersion.objects.filter(finish__in=chosen).in_use().order_by("number"):
        newest[version.finish_id] = version
    shown = [finish for finish in chosen if finish.pk in newest]
    if not book.shows_prices or book.glass is None or not shown:
        return book, [Swatch(finish=finish, prices=()) for finish in shown]
    return book, _priced(book, shown, newest)


def _priced(book: SwatchBook, shown: list[Finish], newest: dict[int, RecipeVersion]) -> list[Swatch]:
    preference, rates = House.unit_preference(), HouseRates.known_on(today())
    sizes = [parse_size(text, size_unit(preference))
             for text in (book.small_size_text, book.large_size_text)]
    lines = tuple(
        DraftLine(
            number=at * len(sizes) + which + 1, shape="circle" if size.single else "rectangle", width_mm=size.width_mm,
            height_mm=size.height_mm, quantity=1, recipe_version_id=newest[finish.pk].pk, glass_id=book.glass_id or 0,
            route="sheet", edge=book.edge, oversize_method="a typical size",
        )
        for at, finish in enumerate(shown) for which, size in enumerate(sizes)
    )
    try:
        basis = basis_of(OrderDraft(lines=lines), today())
    except DaybookError as refusal:
        return [Swatch(finish=finish, prices=(), refusal=str(refusal)) for finish in shown]
    swatches = []
    for at, finish in enumerate(shown):
        prices, refused = [], ""
        for line in basis.lines[at * len(sizes):(at + 1) * len(sizes)]:
            try:
                priced = estimate_basis(replace(basis, lines=(line,)))
            except DaybookError as refusal:
                size = show_size(line.width_mm, line.height_mm, preference)
                refused = f"No price at {size}. {_of_a_pane(refusal, line)}"
                continue
            area = priced.sizes[0].area_m2 / (Fraction(1) if preference == "metric" else FT2_M2)
            digits = rates.minor_digits if rates else 2
            prices.append(GuidePrice(
                size=show_size(line.width_mm, line.height_mm, preference, round_=line.shape == "circle"),
                each=as_decimal(priced.price.net, digits), by_area=as_decimal(priced.price.net / area, digits),
            ))
        swatches.append(Swatch(finish=finish, prices=tuple(prices), refusal=refused))
    return swatches


def _of_a_pane(refusal: DaybookError, line: LineFacts) -> str:
    """Return a refusal said of a pane: the swatch book numbers no lines."""
    if isinstance(refusal, EstimateError) and refusal.subject == line.name:
        return refusal.about("A pane")
    return str(refusal)
