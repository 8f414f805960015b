"""What the jobs know of a finish: where an issue is used, its silver, going bigger, and the customers' swatch book."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django import forms
from django.db.models import Count, Max, Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from jobs.booking import frozen_estimate
from jobs.estimating.basis import LineFacts
from jobs.estimating.estimate import Estimate, estimate
from jobs.estimating.published_silver import PUBLISHED
from jobs.estimating.silver import film_g_per_m2
from jobs.estimating.take_off import GLASS_KG_PER_M2_MM
from jobs.estimating.told import EstimateError
from jobs.going_bigger import MadeSoFar, ahead
from jobs.models import Job, OrderLine, PaneResult, Quote, Run, SwatchBook, WorkTicket
from jobs.order_draft import DraftLine, OrderDraft, draft_of
from jobs.pricing import basis_of, price_order
from jobs.swatch_choices import save_swatch_book
from jobs.ticketing import plan_of
from recipes.models import Finish, RecipeIssue, Trial
from recipes.molar_masses import FormulaUnknown, molar_mass, share_by_mass
from studio.access import at_the_desk, owner_only
from studio.clock import today
from studio.errors import DaybookError
from studio.http import REFUSED, DeskRequest, pdf_response, render_page_or_part, sent_version
from studio.inventory.models import Material, StockMovement
from studio.kit.asking import among, fetched
from studio.locks import ChangedMeanwhile
from studio.models import House, HouseRates
from studio.paper import render_pdf
from studio.rounding import as_decimal
from studio.units import parse_size, show_size, size_unit

FT2_M2 = Fraction("0.09290304")


def _issue(code: str, number: int) -> RecipeIssue:
    rows = RecipeIssue.objects.select_related("finish").prefetch_related("events")
    return get_object_or_404(rows, finish__code=code, number=number)


@at_the_desk
@require_safe
def used_by(request: DeskRequest, code: str, number: int) -> HttpResponse:
    """Where an issue is used: trials, runs, issues that came from it; for the owner quotes and jobs too."""
    issue = _issue(code, number)
    context: dict[str, Any] = {
        "issue": issue, "trials": issue.trials.order_by("-number"), "led_to": issue.led_to.select_related("finish"),
        "runs": Run.objects.filter(pane_results__recipe_issue=issue).distinct().select_related("ticket__job")
        .annotate(good=Count("pane_results", filter=Q(pane_results__good=True, pane_results__recipe_issue=issue)),
                  panes=Count("pane_results", filter=Q(pane_results__recipe_issue=issue))),
    }
    if request.user.is_owner:
        # a frozen quote names its recipes itself: its order may have moved on since
        quotes = Quote.objects.filter(basis__recipes__has_key=issue.key).defer("basis", "figures")
        context |= {
            "jobs": Job.objects.filter(order__lines__recipe_issue=issue).distinct().select_related("order__customer"),
            "quotes": quotes.select_related("order__customer", "order__job").order_by("-number", "-revision"),
        }
    return render(request, "jobs/used_by.html", context)


class PanesForm(forms.Form):
    """So many panes of a size, on a glass."""

    panes = forms.IntegerField(min_value=1, max_value=500)
    size = forms.CharField(max_length=60)
    glass = forms.ModelChoiceField(Material.objects.filter(kind=Material.Kind.GLASS), to_field_name="code",
                                   empty_label=None)

    def __init__(self, data: Any, *, preference: str) -> None:
        glass = Material.objects.filter(kind=Material.Kind.GLASS).first()
        standard = "1000 x 1000 mm" if preference == "metric" else "36 x 36 in"
        super().__init__({"panes": data.get("panes") or "1", "size": data.get("size") or standard,
                          "glass": data.get("glass") or (glass.code if glass else "")})
        self.preference = preference

    def clean_size(self) -> str:
        text = str(self.cleaned_data["size"])
        try:
            self.read = parse_size(text, size_unit(self.preference))
        except DaybookError as refusal:
            raise forms.ValidationError(str(refusal)) from refusal
        return text

    def line(self, issue: RecipeIssue, edge: str) -> DraftLine:
        """Return these panes as an order line: the customer's own glass, just as many started as wanted."""
        panes = self.cleaned_data["panes"]
        return DraftLine(
            number=1, shape="circle" if self.read.single else "rectangle", width_mm=self.read.width_mm,
            height_mm=self.read.height_mm, quantity=panes, recipe_issue_id=issue.pk,
            glass_id=self.cleaned_data["glass"].pk, route="own", edge=edge, plan="spares", own_panes_to_start=panes,
            oversize_method="asked on this page",
        )


def _estimate_of(form: PanesForm, issue: RecipeIssue) -> Estimate | None:
    """Estimate the asked panes; a refusal stands beside the size and there is no estimate."""
    if not form.is_valid():
        return None
    try:
        rates = HouseRates.known_on(today())
        edge = rates.edge_types.first() if rates else None
        if edge is None:
            raise EstimateError("no rates", "The house has no rates yet: enter them first.")
        return price_order(OrderDraft(lines=(form.line(issue, edge.name),)), today())
    except DaybookError as refusal:
        form.add_error("size", str(refusal))
        return None


@dataclass(frozen=True, kw_only=True)
class Substance:
    """A material of a recipe against the reference library: its molar mass, and the silver its formula says."""

    material: Material
    molar_mass: Fraction | None
    silver_share: Fraction | None
    refusal: str = ""


def _substances(codes: set[str]) -> list[Substance]:
    found = []
    for one in Material.objects.filter(code__in=codes).order_by("name"):
        mass = share = None
        refusal = ""
        try:
            if one.formula:
                mass = molar_mass(one.formula, one.hydrate)
                share = share_by_mass("Ag", one.formula, one.hydrate)
        except FormulaUnknown as unknown:
            refusal = str(unknown)
        found.append(Substance(material=one, molar_mass=mass, silver_share=share or None, refusal=refusal))
    return found


@at_the_desk
@require_safe
def chemistry(request: DeskRequest, code: str, number: int) -> HttpResponse:
    """An issue's silver: bought in, on the glass, to recovery; beside what others published."""
    issue, preference = _issue(code, number), House.unit_preference()
    form = PanesForm(request.GET, preference=preference)
    done = _estimate_of(form, issue)
    context: dict[str, Any] = {"issue": issue, "form": form, "published": PUBLISHED}
    if done is not None:
        area = sum((size.area_m2 * size.line.quantity for size in done.sizes), Fraction(0))
        context |= silver_story(done, area) | {"area": area, "substances": _substances(set(done.amounts))}
    return render_page_or_part(request, "jobs/chemistry.html", "silver", context,
                               status=REFUSED if form.errors else 200)


def silver_story(done: Estimate, area_m2: Fraction) -> dict[str, Any]:
    """Return a silver balance as it is read: the grams, the share that stays on the glass, grams offered per m²."""
    silver = done.silver
    into = silver.with_rework_g
    films = {recipe.film_nm for recipe in done.basis.line_recipes()}
    return {
        "silver": silver, "efficiency": silver.on_good_panes_g / into if into else None,
        "offered": into / area_m2 if area_m2 else None, "films": [(nm, film_g_per_m2(nm)) for nm in sorted(films)],
    }


@owner_only
@require_safe
def job_silver(request: DeskRequest, number: int) -> HttpResponse:
    """A job's silver: as planned, and as its runs really took and passed it."""
    job = get_object_or_404(Job.objects.select_related("order__customer", "quote"), number=number)
    context: dict[str, Any] = {"job": job, "published": PUBLISHED}
    try:
        done = frozen_estimate(job.quote) if job.quote else price_order(draft_of(job.order), today())
        area = sum((size.area_m2 * size.line.quantity for size in done.sizes), Fraction(0))
        context |= silver_story(done, area) | {"area": area}
    except DaybookError as refusal:
        context["refusal"] = str(refusal)
    context["really"] = _really(job)
    return render(request, "jobs/job_silver.html", context)


def _really(job: Job) -> dict[str, Fraction] | None:
    """Return grams of silver that a job's finished runs took, and what stands on the panes they passed."""
    runs = list(Run.objects.filter(ticket__job=job, finished_at__isnull=False))
    return silver_of_runs(runs) if runs else None


def silver_of_runs(runs: list[Run]) -> dict[str, Fraction]:
    """Return grams of silver that finished runs took, on the panes they passed, and the rest: to recovery."""
    took = Fraction(0)
    ids = [run.pk for run in runs]
    for moved in among(StockMovement.objects.select_related("lot__material"), "posting__run", ids):
        took -= Fraction(moved.quantity) * Fraction(moved.lot.material.silver_g_per_unit)
    on_glass = sum((
        film_g_per_m2(Fraction(pane.recipe_issue.film_nm)) * Fraction(pane.area_m2)
        for pane in among(PaneResult.objects.filter(good=True).select_related("recipe_issue"), "run_id", ids)
    ), Fraction(0)) if took > 0 else Fraction(0)
    return {"took": took, "on_glass": on_glass, "rest": took - on_glass}


def made_so_far(finish: Finish, issue: RecipeIssue | None = None) -> MadeSoFar:
    """Return the most that was made well of a finish, or of one of its issues alone. A fixed number of queries."""
    of: dict[str, Any] = {"recipe_issue": issue} if issue else {"recipe_issue__finish": finish}
    good = PaneResult.objects.filter(good=True, **of)
    largest = good.order_by("-area_m2").first()
    per_run = good.order_by().values("run").annotate(panes=Count("pk")).aggregate(most=Max("panes"))["most"]
    thickness = {
        (job, line): thick for job, line, thick in OrderLine.objects.filter(
            order__job__tickets__run__pane_results__in=good
        ).values_list("order__job__pk", "number", "glass__thickness_mm").distinct()
    }
    heaviest = Fraction(0)
    for pane in good.select_related("run__ticket"):
        thick = thickness.get((pane.run.ticket.job_id, pane.line_number))
        heaviest = max(heaviest, Fraction(pane.area_m2) * Fraction(thick or 0) * GLASS_KG_PER_M2_MM)
    trials = Trial.objects.filter(verdict=Trial.Verdict.LIKED, **of)
    tried = max((Fraction(one.width_mm) * Fraction(one.height_mm) / 1_000_000 for one in trials), default=Fraction(0))
    done = WorkTicket.objects.filter(run__pane_results__in=good).distinct()
    mixes = [mix.volume_ml for ticket in done for mix in plan_of(ticket).mixes if mix.mixed_for != "job"]
    return MadeSoFar(
        largest_mix_ml=max(mixes, default=Fraction(0)),
        largest_m2=Fraction(largest.area_m2) if largest else Fraction(0), most_panes=per_run or 0,
        largest_told=show_size(Fraction(largest.width_mm), Fraction(largest.height_mm), House.unit_preference())
        if largest else "",
        heaviest_kg=heaviest, largest_trial_m2=tried,
    )


@at_the_desk
@require_safe
def going_bigger(request: DeskRequest, code: str, number: int) -> HttpResponse:
    """What is predicted at a size beyond what was made so far, and what was never tried."""
    issue, preference = _issue(code, number), House.unit_preference()
    form = PanesForm(request.GET, preference=preference)
    done = _estimate_of(form, issue)
    so_far, of_issue = made_so_far(issue.finish), made_so_far(issue.finish, issue)
    return render_page_or_part(request, "jobs/going_bigger.html", "bigger", {
        "issue": issue, "form": form, "so_far": so_far, "of_issue": of_issue,
        "ahead": ahead(done, so_far, preference) if done else None,
    }, status=REFUSED if form.errors else 200)


def beyond_what_was_made(done: Estimate) -> list[dict[str, Any]]:
    """Return the lines of an estimate that go beyond what their finish was ever made at, for a link to that page."""
    found = []
    for size in done.sizes:
        recipe = done.basis.recipes[size.line.recipe]
        if size.area_m2 > recipe.largest_good_m2 or size.line.quantity > recipe.most_good_in_a_run:
            code, _, number = recipe.key.rpartition("/")
            found.append({"finish": recipe.finish, "code": code, "number": int(number), "line": size.line,
                          "glass": size.line.glass, "panes": size.line.quantity,
                          "size": show_size(size.line.width_mm, size.line.height_mm).replace("×", "x")})
    return found


class SwatchBookForm(forms.Form):
    foreword = forms.CharField(widget=forms.Textarea(attrs={"rows": 3}), required=False)
    small_size_text = forms.CharField(max_length=60, label="A typical small pane")
    large_size_text = forms.CharField(max_length=60, label="A typical large pane")
    glass = forms.ModelChoiceField(Material.objects.filter(kind=Material.Kind.GLASS), required=False,
                                   empty_label="choose a glass")
    edge = forms.ChoiceField(required=False)
    shows_prices = forms.BooleanField(required=False, label="Guide prices are shown")
    finishes = forms.ModelMultipleChoiceField(
        Finish.objects.all(), required=False, widget=forms.CheckboxSelectMultiple, label="Finishes in it"
    )

    def __init__(self, data: Any = None, *, row: SwatchBook, preference: str, edges: list[str]) -> None:
        super().__init__(data, initial={
            **{name: getattr(row, name) for name in
               ("foreword", "small_size_text", "large_size_text", "edge", "shows_prices")},
            "glass": row.glass_id, "finishes": Finish.objects.filter(in_swatch_book=True),
        })
        self.preference = preference
        self.fields["edge"].choices = [(name, name) for name in edges]  # type: ignore[attr-defined]

    def _size(self, name: str) -> str:
        text = str(self.cleaned_data[name])
        try:
            parse_size(text, size_unit(self.preference))
        except DaybookError as refusal:
            raise forms.ValidationError(str(refusal)) from refusal
        return text

    def clean_small_size_text(self) -> str:
        return self._size("small_size_text")

    def clean_large_size_text(self) -> str:
        return self._size("large_size_text")


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
    """Return the swatch book: each chosen finish with an issue in force, priced at both sizes.

    Every price is reckoned from one basis, so that queries do not grow with the finishes.
    """
    book, _ = SwatchBook.objects.select_related("glass").get_or_create(id=1)
    chosen = fetched(Finish.objects.filter(in_swatch_book=True).order_by("swatch_place", "name"), "pictures__file")
    newest: dict[int, RecipeIssue] = {}
    for issue in RecipeIssue.objects.filter(finish__in=chosen).in_force().order_by("number"):
        newest[issue.finish_id] = issue
    shown = [finish for finish in chosen if finish.pk in newest]
    if not book.shows_prices or book.glass is None or not shown:
        return book, [Swatch(finish=finish, prices=()) for finish in shown]
    return book, _priced(book, shown, newest)


def _priced(book: SwatchBook, shown: list[Finish], newest: dict[int, RecipeIssue]) -> list[Swatch]:
    preference, rates = House.unit_preference(), HouseRates.known_on(today())
    sizes = [parse_size(text, size_unit(preference))
             for text in (book.small_size_text, book.large_size_text)]
    lines = tuple(
        DraftLine(
            number=at * len(sizes) + which + 1, shape="circle" if size.single else "rectangle", width_mm=size.width_mm,
            height_mm=size.height_mm, quantity=1, recipe_issue_id=newest[finish.pk].pk, glass_id=book.glass_id or 0,
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
                done = estimate(replace(basis, lines=(line,)))
            except DaybookError as refusal:
                size = show_size(line.width_mm, line.height_mm, preference)
                refused = f"No price at {size}. {_of_a_pane(refusal, line)}"
                continue
            area = done.sizes[0].area_m2 / (Fraction(1) if preference == "metric" else FT2_M2)
            digits = rates.minor_digits if rates else 2
            prices.append(GuidePrice(
                size=show_size(line.width_mm, line.height_mm, preference, round_=line.shape == "circle"),
                each=as_decimal(done.price.net, digits), by_area=as_decimal(done.price.net / area, digits),
            ))
        swatches.append(Swatch(finish=finish, prices=tuple(prices), refusal=refused))
    return swatches


def _of_a_pane(refusal: DaybookError, line: LineFacts) -> str:
    """Return a refusal said of a pane: the swatch book numbers no lines."""
    if isinstance(refusal, EstimateError) and refusal.subject == line.name:
        return refusal.about("A pane")
    return str(refusal)


def _swatch_context() -> dict[str, Any]:
    book, swatches = swatch_book()
    rates, house = HouseRates.known_on(today()), House.objects.first()
    return {"book": book, "swatches": swatches, "rates": rates, "house": house, "made_on": today(),
            "digits": rates.minor_digits if rates else 2, "paper_size": house.paper if house else "A4",
            "area_unit": "m²" if not house or house.units == House.Units.METRIC else "ft²"}


@owner_only
@require_http_methods(["GET", "HEAD", "POST"])
def swatch_book_page(request: DeskRequest) -> HttpResponse:
    """The customers' swatch book as it reads, and the owner's choices for it."""
    row, _ = SwatchBook.objects.get_or_create(id=1)
    rates = HouseRates.known_on(today())
    edges = [edge.name for edge in rates.edge_types.all()] if rates else []
    form = SwatchBookForm(request.POST or None, row=row, preference=House.unit_preference(), edges=edges)
    if form.is_valid():
        try:
            save_swatch_book(version=sent_version(request), **form.cleaned_data)
            return redirect("jobs:swatch_book")
        except ChangedMeanwhile as refusal:
            form.add_error(None, str(refusal))
    return render(request, "jobs/swatch_book.html", {"form": form, "row": row, **_swatch_context()},
                  status=REFUSED if form.is_bound else 200)


@owner_only
@require_safe
def swatch_book_pdf(request: DeskRequest) -> HttpResponse:
    pdf = render_pdf("jobs/documents/swatch_book.html", _swatch_context())
    return pdf_response(pdf, "swatch-book.pdf")
