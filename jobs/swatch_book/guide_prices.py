"""Guide prices of the swatch book: each chosen finish at two typical sizes, from one basis."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from django.db.models import QuerySet

from jobs.draft import DraftLine, OrderDraft
from jobs.estimating.basis import LineFacts
from jobs.estimating.estimate import estimate_basis
from jobs.estimating.go_ahead import ready_in_words
from jobs.estimating.refusals import EstimateError
from jobs.models import SwatchBook
from jobs.quotes.basis import basis_of
from recipes.models import Finish, RecipeVersion
from recipes.starting_point import for_customers
from recipes.trials.own_trials import not_tried_here
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
    """A finish in the book. ready: in how many working days, in a quote's words, or nothing where none is known."""

    finish: Finish
    prices: tuple[GuidePrice, ...]
    refusal: str = ""
    ready: str = ""
    not_tried: bool = False

    @property
    def in_words(self) -> str:
        """Return the finish's description as a customer reads it on paper."""
        return for_customers(self.finish.description)


def finishes_in_it() -> QuerySet[Finish]:
    """Return the chosen finishes that have a version in use, in the order of the book."""
    in_use = RecipeVersion.objects.in_use().order_by().values("finish")
    return Finish.objects.filter(in_swatch_book=True, pk__in=in_use).order_by("swatch_place", "name")


def swatch_book() -> tuple[SwatchBook, list[Swatch]]:
    """Return the swatch book: each chosen finish with a version in use, priced at both sizes."""
    book, _ = SwatchBook.objects.select_related("glass").get_or_create(id=1)
    return book, swatches_of(book, finishes_in_it())


def swatches_of(book: SwatchBook, finishes: Iterable[Finish]) -> list[Swatch]:
    """Return finishes of the book, a page of it or all, priced at both sizes. finishes: with versions in use.

    Every price is worked out from one basis, so that queries do not grow with the finishes.
    """
    chosen = fetched(finishes, "pictures__file")
    newest: dict[int, RecipeVersion] = {}
    for version in RecipeVersion.objects.filter(finish__in=chosen).in_use().order_by("number"):
        newest[version.finish_id] = version
    shown = [finish for finish in chosen if finish.pk in newest]
    rates = HouseRates.known_on(today())
    usual = (rates.usual_working_days or 0) if rates else 0
    if not book.shows_prices or book.glass is None or not shown:
        swatches = [Swatch(finish=finish, prices=(), ready=_ready(usual, finish.lead_time_days)) for finish in shown]
    else:
        swatches = _priced(book, shown, newest, rates)
    not_tried = not_tried_here(newest[finish.pk] for finish in shown)
    return [replace(swatch, not_tried=newest[swatch.finish.pk].pk in not_tried) for swatch in swatches]


def _ready(*days: int | None) -> str:
    """Return what is said of the longest of these days, as a quote would say it."""
    longest = max(each or 0 for each in days)
    return ready_in_words(longest) if longest else ""


def _priced(
    book: SwatchBook, shown: list[Finish], newest: dict[int, RecipeVersion], rates: HouseRates | None
) -> list[Swatch]:
    """Price each finish at both sizes. What it is ready in is the longer of the two, the usual days among them."""
    preference, usual = House.unit_preference(), (rates.usual_working_days if rates else 0)
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
        return [
            Swatch(finish=finish, prices=(), refusal=str(refusal), ready=_ready(usual, finish.lead_time_days))
            for finish in shown
        ]
    swatches = []
    for at, finish in enumerate(shown):
        prices, refused, days = [], "", [usual, finish.lead_time_days]
        for line in basis.lines[at * len(sizes):(at + 1) * len(sizes)]:
            try:
                priced = estimate_basis(replace(basis, lines=(line,)))
            except DaybookError as refusal:
                size = show_size(line.width_mm, line.height_mm, preference)
                refused = f"No price at {size}. {_of_a_pane(refusal, line)}"
                continue
            days.append(priced.go_ahead.days)
            area = priced.sizes[0].area_m2 / (Fraction(1) if preference == "metric" else FT2_M2)
            digits = rates.minor_digits if rates else 2
            prices.append(GuidePrice(
                size=show_size(line.width_mm, line.height_mm, preference, round_=line.shape == "circle"),
                each=as_decimal(priced.price.net, digits), by_area=as_decimal(priced.price.net / area, digits),
            ))
        swatches.append(Swatch(finish=finish, prices=tuple(prices), refusal=refused, ready=_ready(*days)))
    return swatches


def _of_a_pane(refusal: DaybookError, line: LineFacts) -> str:
    """Return a refusal said of a pane: the swatch book numbers no lines."""
    if isinstance(refusal, EstimateError) and refusal.subject == line.name:
        return refusal.about("A pane")
    return str(refusal)
