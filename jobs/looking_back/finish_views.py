"""What the jobs know of a finish: where a version is used, its silver, and what comes before going bigger."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from django import forms
from django.db.models import Count, OuterRef, Prefetch, Q, QuerySet, Subquery
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from jobs.draft import DraftLine, OrderDraft
from jobs.estimating.estimate import Estimate
from jobs.estimating.published_silver import PUBLISHED
from jobs.estimating.refusals import EstimateError
from jobs.looking_back.going_bigger import predict
from jobs.looking_back.made_so_far import made_so_far
from jobs.looking_back.silver import silver_figures
from jobs.models import Job, OrderLine, PaneResult, Quote, Run
from jobs.models.quotes import frozen_of
from jobs.quotes.pricing import price_order
from recipes.models import RecipeVersion, VersionEvent
from studio.house.clock import today
from studio.house.http import REFUSED, DeskRequest, render_page_or_part
from studio.house.models import House, HouseRates
from studio.kit.access import at_the_desk
from studio.kit.errors import DaybookError
from studio.kit.formulas import FormulaUnknown, molar_mass, share_by_mass
from studio.kit.meant_so import AsksOfSizes
from studio.kit.roles import May
from studio.kit.units import size_unit
from studio.stockroom.models import Material


def _version(code: str, number: int) -> RecipeVersion:
    rows = RecipeVersion.objects.select_related("finish").prefetch_related("events")
    return get_object_or_404(rows, finish__code=code, number=number)


#: so many of each kind show where a version is used, the newest
MOST_SHOWN = 50
_QUOTES = Quote.objects.defer(*frozen_of())


def _newest(rows: QuerySet[Any]) -> tuple[list[Any], bool]:
    """Return the first rows, and whether there are more."""
    found = list(rows[:MOST_SHOWN + 1])
    return found[:MOST_SHOWN], len(found) > MOST_SHOWN


def _runs_of(version: RecipeVersion) -> QuerySet[Run]:
    """Return the runs with panes of a version, the newest first, with how many and how many were good."""
    mine = PaneResult.objects.filter(run=OuterRef("pk"), recipe_version=version).order_by().values("run")
    counted = mine.annotate(panes=Count("pk"), good=Count("pk", filter=Q(good=True)))
    with_panes = PaneResult.objects.filter(recipe_version=version).order_by().values("run")
    return Run.objects.filter(pk__in=with_panes).select_related("ticket__job").defer("ticket__plan").annotate(
        panes=Subquery(counted.values("panes")), good=Subquery(counted.values("good"))).order_by("-pk")


def _quotes_of(version: RecipeVersion) -> QuerySet[Quote]:
    """Return the quotes that a version was frozen in, the newest first: none from before it was in use."""
    began = version.events.filter(kind=VersionEvent.Kind.IN_USE).values_list("at", flat=True).first()
    if began is None:
        return Quote.objects.none()
    # looked for by key, from the newest on: the search ends with the page, and carries nothing frozen along
    named = Quote.objects.filter(made_at__gte=began, basis__recipes__has_key=version.key)
    newest = list(named.order_by("-number", "-revision").values_list("pk", flat=True)[:MOST_SHOWN + 1])
    quotes = _QUOTES.filter(pk__in=newest)
    return quotes.select_related("order__customer", "order__job").order_by("-number", "-revision")


@at_the_desk
@require_safe
def used_by(request: DeskRequest, code: str, number: int) -> HttpResponse:
    """Where a version is used: trials, runs, versions that came from it; for the owner quotes and jobs too."""
    version = _version(code, number)
    context: dict[str, Any] = {
        "version": version,
        "most": MOST_SHOWN, "trials": _newest(version.trials.order_by("-number")),
        "led_to": _newest(version.led_to.select_related("finish").order_by("-pk")), "runs": _newest(_runs_of(version)),
    }
    if request.user.may(May.ORDERS):
        # a frozen quote names its recipes itself: its order may have moved on since
        context |= {
            "jobs": _newest(Job.objects.filter(
                order__in=OrderLine.objects.filter(recipe_version=version).order_by().values("order"),
            ).select_related("order__customer").prefetch_related(Prefetch("order__quotes", _QUOTES))),
            "quotes": _newest(_quotes_of(version)),
        }
    return render(request, "jobs/looking_back/used_by.html", context)


class PanesForm(AsksOfSizes):
    """So many panes of a size, on a glass."""

    panes = forms.IntegerField(min_value=1, max_value=500)
    size = forms.CharField(max_length=60)
    glass = forms.ModelChoiceField(Material.objects.filter(kind=Material.Kind.GLASS), to_field_name="code",
                                   empty_label=None)

    def __init__(self, data: Any, *, preference: str) -> None:
        glass = Material.objects.filter(kind=Material.Kind.GLASS).first()
        standard = "1000 x 1000 mm" if preference == "metric" else "36 x 36 in"
        ticks = {name: data[name] for name in data if name.endswith("_meant_so")}
        super().__init__({"panes": data.get("panes") or "1", "size": data.get("size") or standard,
                          "glass": data.get("glass") or (glass.code if glass else ""), **ticks})
        self.preference = preference

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        size = self.read_size("size", size_unit(self.preference))
        if size is not None:
            self.read = size
        return values

    def line(self, version: RecipeVersion, edge: str) -> DraftLine:
        """Return these panes as an order line: the customer's own glass, just as many started as wanted."""
        panes = self.cleaned_data["panes"]
        return DraftLine(
            number=1, shape="circle" if self.read.single else "rectangle", width_mm=self.read.width_mm,
            height_mm=self.read.height_mm, quantity=panes, recipe_version_id=version.pk,
            glass_id=self.cleaned_data["glass"].pk, route="own", edge=edge, plan="spares", own_panes_to_start=panes,
            oversize_method="asked on this page",
        )


def _estimate_of(form: PanesForm, version: RecipeVersion) -> Estimate | None:
    """Estimate the asked panes; a refusal stands beside the size and there is no estimate."""
    if not form.is_valid():
        return None
    try:
        rates = HouseRates.known_on(today())
        edge = rates.edge_types.first() if rates else None
        if edge is None:
            raise EstimateError("no rates", "The studio has no rates yet: enter them first.")
        return price_order(OrderDraft(lines=(form.line(version, edge.name),)), today())
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
    for material in Material.objects.filter(code__in=codes).order_by("name"):
        mass = share = None
        refusal = ""
        try:
            if material.formula:
                mass = molar_mass(material.formula, material.hydrate)
                share = share_by_mass("Ag", material.formula, material.hydrate)
        except FormulaUnknown as unknown:
            refusal = str(unknown)
        found.append(Substance(material=material, molar_mass=mass, silver_share=share or None, refusal=refusal))
    return found


@at_the_desk
@require_safe
def chemistry(request: DeskRequest, code: str, number: int) -> HttpResponse:
    """A version's silver: bought in, on the glass, to recovery; beside what others published."""
    version, preference = _version(code, number), House.unit_preference()
    form = PanesForm(request.GET, preference=preference)
    estimate = _estimate_of(form, version)
    context: dict[str, Any] = {"version": version, "form": form, "published": PUBLISHED}
    if estimate is not None:
        area = sum((size.area_m2 * size.line.quantity for size in estimate.sizes), Fraction(0))
        context |= silver_figures(estimate, area) | {"area": area, "substances": _substances(set(estimate.amounts))}
    return render_page_or_part(request, "jobs/looking_back/chemistry.html", "silver", context,
                               status=REFUSED if form.errors else 200)


@at_the_desk
@require_safe
def going_bigger(request: DeskRequest, code: str, number: int) -> HttpResponse:
    """What is predicted at a size beyond what was made so far, and what was never tried."""
    version, preference = _version(code, number), House.unit_preference()
    form = PanesForm(request.GET, preference=preference)
    estimate = _estimate_of(form, version)
    so_far, of_version = made_so_far(version.finish), made_so_far(version.finish, version)
    return render_page_or_part(request, "jobs/looking_back/going_bigger.html", "bigger", {
        "version": version, "form": form, "so_far": so_far, "of_version": of_version,
        "predicted": predict(estimate, so_far, preference) if estimate else None,
    }, status=REFUSED if form.errors else 200)
