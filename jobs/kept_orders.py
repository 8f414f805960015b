"""An order as it stands, kept as JSON, and written back just as it was: for what is undone, or said no to."""

from __future__ import annotations

from typing import Any

from jobs.models import BoughtIn, Customer, Order, OrderLine
from recipes.models import RecipeVersion
from studio.kit.kept_rows import as_kept, plain_json, read_kept
from studio.stockroom.models import Material

OWN_VALUES = ("title", "due_on", "discount_share", "discount_amount", "discount_reason", "note")
Kept = dict[str, Any]


def as_it_stands(order: Order) -> Kept:
    """Return an order's own values, lines and bought-in items, to keep as JSON: finishes and glass by their codes."""
    order = Order.objects.select_related("customer").get(pk=order.pk)
    lines = order.lines.select_related("recipe_version__finish", "glass")
    return {
        "customer": order.customer.name, "order": {name: plain_json(getattr(order, name)) for name in OWN_VALUES},
        "lines": [{**as_kept(line, "order", "recipe_version", "glass"), "recipe_version": line.recipe_version.key,
                   "glass": line.glass.code} for line in lines],
        "bought_in": [as_kept(item, "order") for item in order.bought_in.all()],
    }


def write_back(order: Order, kept: Kept) -> None:
    """Let an order be as it was kept: its own values, lines and bought-in items."""
    order = Order.objects.select_for_update().get(pk=order.pk)
    for name, value in read_kept(Order, kept["order"]).items():
        setattr(order, name, value)
    order.customer = Customer.objects.filter(name=kept["customer"]).first() or order.customer
    order.saves += 1
    order.save()
    order.lines.all().delete()
    order.bought_in.all().delete()
    glass = {row.code: row for row in Material.objects.filter(code__in={line["glass"] for line in kept["lines"]})}
    for line in kept["lines"]:
        code, _, number = line["recipe_version"].rpartition("/")
        version = RecipeVersion.objects.get(finish__code=code, number=number)
        own = {name: value for name, value in line.items() if name not in ("recipe_version", "glass")}
        OrderLine.objects.create(order=order, recipe_version=version, glass=glass[line["glass"]],
                                 **read_kept(OrderLine, own))
    for item in kept["bought_in"]:
        BoughtIn.objects.create(order=order, **read_kept(BoughtIn, item))
