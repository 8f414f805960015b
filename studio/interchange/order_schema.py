"""The published schema of an order file for `manage.py estimate`: names and sizes as people write them."""

from __future__ import annotations

from jobs.book import BOUGHT_IN
from jobs.models import OrderLine
from studio.kit.book import TEXT, Schema, a_thing, many
from studio.kit.book_values import DATE, DECIMAL, amount, value_schema


def _thing(required: tuple[str, ...] = (), **properties: Schema) -> Schema:
    return a_thing(properties, list(required))


def order_schema() -> Schema:
    """Return the schema of an order file for `manage.py estimate`."""
    bought_in = a_thing(
        {one.name: value_schema(one) for one in BOUGHT_IN.columns},
        [one.name for one in BOUGHT_IN.columns if one.required],
    )
    line = _thing(
        ("size", "quantity", "finish", "glass", "edge"),
        shape={"enum": [value for value, _ in OrderLine.Shape.choices]},
        size={"type": "string", "description": "As people write it: “24 3/8 x 36”, “610 x 915 mm”, “61cm”."},
        area={**amount("m2"), "description": "For another shape: its area, with the bounding rectangle as size."},
        perimeter=amount("mm"), quantity={"type": "integer", "minimum": 1}, finish=TEXT,
        issue={"type": "integer", "description": "A recipe issue; the newest issued one without it."},
        glass=TEXT, route={"enum": [value for value, _ in OrderLine.Route.choices]}, cut_price_per_m2=DECIMAL,
        cut_minimum_each=DECIMAL, edge=TEXT, plan={"enum": ["spares", "rework"]},
        own_panes_to_start={"type": "integer"}, oversize_method=TEXT, match_group=TEXT, backing=TEXT, note=TEXT,
        place={**TEXT, "description": "Where a pane of a match group hangs among its neighbours."},
        joint={**amount("mm"), "description": "The size is an opening's; so much is left free at every edge."},
        holes={**TEXT, "description": "“hole 10 mm at 50 x 60 mm; socket 80 x 80 mm at 300 x 400 mm”: from the left "
               "and the lower edge to the middle, seen from the front."},
    )
    return _thing(
        ("lines",), as_of={**DATE, "description": "The day whose rates, prices and lots count; today without it."},
        customer=TEXT, title=TEXT, lines=many(line), bought_in=many(bought_in),
        discount=_thing((), share=DECIMAL, amount=DECIMAL, reason=TEXT),
    )
