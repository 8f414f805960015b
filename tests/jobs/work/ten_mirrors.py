"""Ten mirrors of two finishes, booked in the demo's studio: the large ticket that papers are measured by."""

from __future__ import annotations

from fractions import Fraction

from jobs.draft import DraftLine
from jobs.models import Customer, Job
from jobs.orders.saving import save_order
from jobs.quotes.quoting import decide, save_quote
from jobs.work.booking import book_job
from recipes.models import RecipeVersion
from studio.house.models import Person
from tests import builders


def ten_mirrors(owner: Person) -> Job:
    """Return the booked job; the demo's book is loaded."""
    salt, harbour = (
        RecipeVersion.objects.filter(finish__name=name).latest("number")
        for name in ("Winter Salt", "Foxed Harbour")
    )
    glass = Job.objects.get(number=4).order.lines.first().glass_id
    lines = tuple(
        (f"{width} x {height} mm", DraftLine(number=number, shape="rectangle", width_mm=Fraction(width),
                                             height_mm=Fraction(height), quantity=quantity, recipe_version_id=version.pk,
                                             glass_id=glass, route="sheet", edge="seamed"))
        for number, (width, height, quantity, version) in enumerate(
            [(610, 915, 4, salt), (400, 900, 2, salt), (500, 700, 4, harbour)], start=1)
    )
    order = save_order(by=owner, form_key=builders.key(), customer=Customer.objects.first(), title="Ten mirrors",
                       typed_lines=lines)
    decide(quote=save_quote(order=order, by=owner, form_key=builders.key()), accepted=True)
    return book_job(job=order.job, by=owner, sample_approved=True, deposit_noted=True, waived_because="", due_on=None)
