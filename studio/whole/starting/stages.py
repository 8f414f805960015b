"""The stages of the first day, in order, each told by what the book holds: nothing is ticked off that is not there."""

from __future__ import annotations

from dataclasses import dataclass

from jobs.models import Quote
from recipes.models import RecipeVersion
from studio.house.clock import today
from studio.house.models import House, HouseRates, Person
from studio.kit.currencies import sign
from studio.kit.roles import May
from studio.kit.working_hours import DAYS
from studio.stockroom.models import Lot, Material

DONE, NOW, TO_COME = "done", "now", "to come"


@dataclass(frozen=True, kw_only=True)
class Stage:
    """A stage: the name in its address, what it is called, what it is for, and how it stands."""

    key: str
    title: str
    purpose: str
    state: str = TO_COME
    #: what the book holds of it, in words, once it is done
    holds: str = ""

    @property
    def is_done(self) -> bool:
        return self.state == DONE


#: key, title, what it is for; the first is done by whoever sees this page
_STAGES = (
    ("studio", "The studio", "Its name, its money and its owner."),
    ("rates", "What an hour costs", "Seven figures that only this studio knows; the rest starts as is common."),
    ("hands", "Hands and working days", "Who works when, and on what bench: it decides loads and dates."),
    ("materials", "Materials and glass", "What stands on the shelf, with what it costs."),
    ("delivery", "What came in", "Paste a delivery note or an invoice: each line becomes a lot."),
    ("finishes", "Finishes", "A starter set after published formulas, to be tried on samples."),
    ("order", "The first order", "Sizes in, price out, and a quote to send."),
)
KEYS = tuple(key for key, _, _ in _STAGES)


def stages() -> list[Stage]:
    """Return the stages in order. The first that is not done is now; those after it are to come, or done already."""
    known = _what_the_book_holds()
    found: list[Stage] = []
    for key, title, purpose in _STAGES:
        state = DONE if known[key] else TO_COME if any(stage.state == NOW for stage in found) else NOW
        found.append(Stage(key=key, title=title, purpose=purpose, state=state, holds=known[key]))
    return found


@dataclass(frozen=True, kw_only=True)
class SettingUp:
    """How far a studio is set up: the next stage, and how many are done."""

    next: Stage
    done: int
    all: int


def setting_up_of(person: Person) -> SettingUp | None:
    """Return how far the studio is set up, for its owner; None for a helper, and once nothing is missing.

    A studio that ever saved a quote works: what it left out it left out on purpose, and Today speaks of it no more.
    """
    if not person.may(May.STUDIO):
        return None
    found = stages()
    if next(stage for stage in found if stage.key == "order").is_done:
        return None
    waiting = [stage for stage in found if not stage.is_done]
    return SettingUp(next=waiting[0], done=len(found) - len(waiting), all=len(found)) if waiting else None


def _what_the_book_holds() -> dict[str, str]:
    """Return what there is of each stage, in words; "" where there is nothing yet, or not enough."""
    house, rates = House.objects.first(), HouseRates.known_on(today())
    return {
        "studio": f"{house.name}, counting in {sign(rates.currency)}" if house and rates else "",
        "rates": "Rates are set." if rates and rates.helper_per_hour and rates.owner_per_hour else "",
        "hands": _days(house),
        "materials": _materials(),
        "delivery": _counted(Lot.objects.count(), "lot"),
        "finishes": _counted(
            RecipeVersion.objects.in_use().values("finish").distinct().count(), "finish", "finishes"),
        "order": _counted(Quote.objects.count(), "quote"),
    }


def _days(house: House | None) -> str:
    days = sum(bool(getattr(house, f"hours_{day}", "")) for day in DAYS)
    return _counted(days, "working day", more=" a week")


def _materials() -> str:
    """Return how many materials there are, once glass and something to put on it are among them."""
    kinds = list(Material.objects.values_list("kind", flat=True))
    glass = kinds.count(Material.Kind.GLASS)
    return _counted(len(kinds), "material", more=f", {glass} of glass") if 0 < glass < len(kinds) else ""


def _counted(count: int, noun: str, nouns: str = "", more: str = "") -> str:
    if not count:
        return ""
    return f"{count} {noun if count == 1 else nouns or noun + 's'}{more}"
