"""The kinds of steps, one row each: a kind's name, what it does to the pane, and what it starts as. Pure: no Django.

Adding a kind: one row here, a migration for the choices of `Step.kind`, a test. Models, forms, rules, timetable and
search all read this table.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

#: what a kind leaves the pane as, beside being dried by a step that says so
Leaves = Literal["clean", "rinsed", "sensitised", "silvered", "antiqued", "sealed", "inspected", "as it was"]
Fresh = Mapping[str, str | bool]

_APPLYING_FIELDS = ("how", "coats", "coverage_ml_per_m2", "dwell_minutes", "motion", "pane_lies", "surface_before",
                    "dwell_attended", "dwell_counted")
_COVERING_FIELDS = ("how", "coats", "coverage_ml_per_m2", "drying", "dwell_minutes", "surface_before")
_COVERING: Fresh = {"how": "brush", "drying": "air", "surface_before": "dry"}


@dataclass(frozen=True, kw_only=True)
class StepKind:
    """One kind of step.

    applying: it puts agents on the pane that stay until a full rinse. needs_rinsed_silver: silver must be rinsed off
    before it. may_wait: a load may wait after it, even where it does not dry. decided_by_motion: how the pane is moved
    is found by searches. makes_safe: ammoniacal silver is made safe in it. dries: the pane is dry after it.
    first_parts: a fresh step starts with rows for the parts of a silver bath. open_fields: shown open in its
    form. fresh: what a new one starts as (common practice, no source).
    """

    value: str
    label: str
    leaves: Leaves = "as it was"
    applying: bool = False
    needs_rinsed_silver: bool = False
    may_wait: bool = False
    decided_by_motion: bool = False
    dries: bool = False
    first_parts: bool = False
    makes_safe: bool = False
    open_fields: tuple[str, ...] = _APPLYING_FIELDS
    fresh: Fresh = field(default_factory=dict)

    @property
    def covers(self) -> bool:
        """Say whether it puts a coat on the silver that stays: without a solution there is nothing to put on."""
        return self.leaves == "sealed"


KINDS: dict[str, StepKind] = {kind.value: kind for kind in (
    StepKind(value="clean", label="clean", leaves="clean", open_fields=("how", "coverage_ml_per_m2", "dwell_minutes")),
    StepKind(value="rinse", label="rinse", leaves="rinsed",
             open_fields=("rinse_full", "rinse_collected", "rinse_water", "dwell_minutes"),
             fresh={"rinse_full": True, "rinse_water": "distilled"}),
    StepKind(value="sensitise", label="sensitise", leaves="sensitised", applying=True, decided_by_motion=True,
             fresh={"how": "wipe"}),
    StepKind(value="silver", label="silver", leaves="silvered", applying=True, decided_by_motion=True, first_parts=True,
             fresh={"how": "spray", "dwell_attended": True}),
    StepKind(value="dry", label="dry", dries=True, needs_rinsed_silver=True, open_fields=("drying", "dwell_minutes"),
             fresh={"drying": "air"}),
    StepKind(value="antique", label="antique", leaves="antiqued", applying=True, decided_by_motion=True,
             needs_rinsed_silver=True),
    StepKind(value="seal", label="seal", leaves="sealed", dries=True, needs_rinsed_silver=True,
             open_fields=_COVERING_FIELDS, fresh=_COVERING),
    StepKind(value="back", label="back", leaves="sealed", dries=True, needs_rinsed_silver=True,
             open_fields=_COVERING_FIELDS, fresh=_COVERING),
    StepKind(value="inspect", label="inspect", leaves="inspected", may_wait=True, open_fields=()),
    StepKind(value="make safe", label="make safe", makes_safe=True, open_fields=("dwell_minutes",)),
)}


def kind_of(value: str) -> StepKind:
    """Return a kind by its value. Raises KeyError: a kind that is in no table is never passed over."""
    return KINDS[value]


def is_attended(kind: str, ticked: bool, motion: str) -> bool:
    """Say whether somebody stands by in a step: a rocked one is attended, and making safe, whatever is ticked."""
    return ticked or motion == "rocked" or kind_of(kind).makes_safe
