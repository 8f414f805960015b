"""The estimate as JSON: decimal strings, half up to 9 places, the unit in each key.

The fields are published in the book's schema (`studio/whole/book/schema.json`, under `estimate`).
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from jobs.estimating.estimate import Estimate
from jobs.estimating.holes import from_behind
from jobs.estimating.loads import Load
from jobs.estimating.mixes import Mix
from jobs.estimating.price_contents import PriceContents
from recipes.facts import Shelf
from studio.kit.rounding import decimal_string as text


def _optional(value: Fraction | None) -> str | None:
    return None if value is None else text(value)


def as_output(estimate: Estimate, contents: PriceContents | None = None) -> dict[str, Any]:
    """Return every figure of an estimate."""
    return {
        "as_of": estimate.basis.as_of.isoformat(),
        "currency": estimate.basis.house.currency,
        "lines": [_line(estimate, at) for at in range(len(estimate.sizes))],
        "loads": [_load(estimate, load) for loads in estimate.loads.values() for load in loads],
        "applied": [
            {"recipe": _recipe(estimate, applied.recipe), "step": applied.step, "load": applied.load,
             "wetted_m2": text(applied.wetted_m2), "applied_ml": text(applied.volume_ml)}
            for applied in estimate.applied
        ],
        "mixes": [_mix(estimate, mix) for mix in estimate.mixes],
        "materials": [_material(estimate.basis.shelf, key, amount) for key, amount in estimate.amounts.items()],
        "glass": [_glass(estimate, at) for at in range(len(estimate.glass.sheets))],
        "cutting": [
            {"glass": plan.glass.name, "sheets": plan.whole_sheets, "fewest_sheets_possible": plan.fewest_sheets,
             "fewest_m2_possible": text(plan.fewest_m2), "first_answer_sheets": plan.first_sheets,
             "first_answer_cost": text(plan.first_cost), "used_share": text(plan.used_share),
             "cost": text(plan.cost)}
            for plan in estimate.glass.plans
        ],
        "minutes": text(estimate.minutes),
        "price": _price(estimate),
        "chance_all_met": text(estimate.chance_all_met),
        "bought_in": [
            {"name": item.name, "kind": item.kind, "line": item.line, "cost": text(item.cost),
             "markup_share": _optional(item.markup_share), "before": item.before, "days": item.days,
             "due_on": item.due_on.isoformat() if item.due_on else None}
            for item in estimate.basis.bought_in
        ],
        "crates": [
            {"crate": crate.number, "panes": {str(line): count for line, count in crate.panes.items()},
             "glass_kg": text(crate.glass_kg), "gross_kg": text(crate.gross_kg)}
            for crate in estimate.carrying.crates
        ],
        "carrying_cautions": [caution.sentence for caution in estimate.carrying.cautions],
        "timetable": _timetable(estimate), "promise": {
            "hand_over_on": estimate.promise.hand_over_on.isoformat(),
            "stages": [{"what": stage.what, "on": stage.on.isoformat(), "because": stage.because}
                       for stage in estimate.promise.stages],
        },
        "silver": {
            "into_job_g": text(estimate.silver.into_job_g), "with_rework_g": text(estimate.silver.with_rework_g),
            "on_good_panes_g": text(estimate.silver.on_good_panes_g),
            "kept_leftovers_g": text(estimate.silver.kept_leftovers_g), "rest_g": _optional(estimate.silver.rest_g),
        },
        "warnings": [warning.sentence for warning in estimate.warnings],
        **({"rests_on": contents.as_output()} if contents else {}),
    }


def _recipe(estimate: Estimate, key: str) -> str:
    recipe = estimate.basis.recipes[key]
    return f"{recipe.finish}, version {recipe.version_number}"


def _line(estimate: Estimate, at: int) -> dict[str, Any]:
    size, cost = estimate.sizes[at], estimate.costs[at]
    line = size.line
    plan, labour = estimate.panes[line.number], estimate.labour[line.number]
    return {
        "line": line.number, "recipe": _recipe(estimate, line.recipe), "shape": line.shape,
        "width_mm": text(line.width_mm), "height_mm": text(line.height_mm), "quantity": line.quantity,
        "size_is_opening": line.opening, "joint_mm": text(line.joint_mm),
        "opening_width_mm": text(line.width_mm + 2 * line.joint_mm),
        "opening_height_mm": text(line.height_mm + 2 * line.joint_mm), "place": line.place,
        "holes": [
            {"kind": hole.kind, "width_mm": text(hole.width_mm), "height_mm": text(hole.height_mm),
             "from_left_mm": text(hole.from_left_mm), "from_bottom_mm": text(hole.from_bottom_mm),
             "from_left_on_the_back_mm": text(from_behind(hole, line.width_mm).from_left_mm)}
            for hole in line.holes
        ],
        "yield_of_sizes_over_m2": _optional(plan.band.over_m2 if plan.band else None),
        "area_m2": text(size.area_m2), "bounding_m2": text(size.bounding_m2),
        "perimeter_m": text(size.perimeter_m), "cut_width_mm": text(size.cut_width_mm),
        "cut_height_mm": text(size.cut_height_mm), "pane_kg": text(size.pane_kg),
        "ordered_kg": text(size.pane_kg * line.quantity),
        "plan": plan.plan, "yield_share": text(plan.yield_share), "good_before": plan.good,
        "started_before": plan.started, "panes_to_start": plan.panes_to_start,
        "spare_panes": plan.panes_to_start - line.quantity, "chance_met": text(plan.chance_met),
        "started_m2": text(size.area_m2 * plan.panes_to_start),
        "minutes_steps": text(labour.steps.total), "minutes_mixing": text(labour.mixing.total),
        "minutes_cutting_and_edges": text(labour.cutting_and_edges.total),
        "minutes_set_up_and_packing": text(labour.once.total), "minutes_helper": text(labour.all.helper),
        "minutes_owner": text(labour.all.owner), "minutes": text(labour.all.total),
        "chemistry": text(cost.chemistry), "labour": text(cost.labour), "overhead": text(cost.overhead),
        "glass": text(cost.glass), "bought_in": text(cost.bought_in), "rework": text(cost.rework),
        "cost": text(cost.total), "line_price": text(estimate.price.line_prices[at]),
        "line_price_worked_out": text(estimate.line_prices[at].worked_out),
        "own_price_each": _optional(line.own_price_each),
    }


def _timetable(estimate: Estimate) -> dict[str, Any]:
    table = estimate.timetable
    return {
        "hands": table.hands, "benches": table.benches, "no_timetable_is_shorter": table.proved,
        "job_mixing_minutes": text(table.job_mixing_minutes), "finish_minutes": text(table.finish_minutes),
        "labour_minutes": text(table.labour_minutes),
        "idle_minutes": text(table.idle_minutes),
        "loads": [
            {"recipe": _recipe(estimate, load.recipe), "load": load.load, "steps": [
                {"step": step.step, "starts_minute": text(step.starts), "work_minutes": text(step.work_minutes),
                 "mixing_minutes": text(step.mixing_minutes), "only_mixing": step.only_mixing,
                 "dwell_minutes": text(step.dwell_minutes), "attended": step.attended, "may_wait": step.may_wait}
                for step in load.steps
            ]}
            for load in table.loads
        ],
    }


def _load(estimate: Estimate, load: Load) -> dict[str, Any]:
    return {
        "recipe": _recipe(estimate, load.recipe), "load": load.number,
        "panes": [pane.label for pane in load.panes], "area_m2": text(load.area_m2),
        "bounding_m2": text(sum((pane.size.bounding_m2 for pane in load.panes), Fraction(0))),
        "oversize_method": load.oversize_method, "layout_found": not load.no_layout_found,
    }


def _mix(estimate: Estimate, mix: Mix) -> dict[str, Any]:
    return {
        "mix": mix.number,
        "solution": mix.solution.name,
        "solution_version": mix.solution.version_number,
        "strength": text(mix.strength),
        "mixed_for": mix.mixed_for,
        "recipe": _recipe(estimate, mix.recipe) if mix.recipe else None,
        "step": mix.step,
        "load": mix.load,
        "shared_by_loads": [{"load": share.load, "needed_ml": text(share.needed_ml)} for share in mix.shared],
        "pane": mix.pane or None,
        "inside_mix": mix.parent_mix,
        "needed_ml": text(mix.needed_ml),
        "made_ml": text(mix.made_ml),
        "spare_ml": text(mix.spare_ml),
        "mixing_minutes": text(mix.minutes(estimate.basis.house)),
        "material_cost": text(mix.cost(estimate.basis.shelf)),
        "charged": {_recipe(estimate, key): text(share) for key, share in mix.charged.items()},
        "batches": [
            {
                "batch": batch.number,
                "made_ml": text(batch.volume_ml),
                "ingredients": [
                    {
                        "number": measured.ingredient.number,
                        "of": measured.name,
                        "amount": text(measured.amount),
                        "unit": measured.unit,
                        "makes_up_to_volume": measured.ingredient.make_up,
                        "scales_with_strength": measured.ingredient.scales_with_strength,
                        "not_measurable": measured.not_measurable,
                    }
                    for measured in batch.ingredients
                ],
            }
            for batch in mix.batches
        ],
    }


def _material(shelf: Shelf, key: str, amount: Fraction) -> dict[str, Any]:
    material = shelf.materials[key]
    cost = material.unit_cost or Fraction(0)
    return {
        "material": material.name, "amount": text(amount), "stock_unit": material.stock_unit,
        "unit_cost": text(cost), "unit_cost_source": material.unit_cost_source,
        "unit_cost_date": material.unit_cost_date.isoformat() if material.unit_cost_date else None,
        "cost": text(amount * cost), "silver_g": text(amount * material.silver_g_per_unit),
    }


def _glass(estimate: Estimate, at: int) -> dict[str, Any]:
    use = estimate.glass.sheets[at]
    glass = estimate.basis.glasses[use.glass]
    return {
        "glass": glass.name, "sheets": use.sheets, "sheet_cost": text(use.sheet_cost),
        "sheet_cost_source": glass.sheet_cost_source,
        "sheet_cost_date": glass.sheet_cost_date.isoformat() if glass.sheet_cost_date else None,
        "offcut_credit": text(use.credit), "cost": text(use.cost),
        "used_share": text(use.used_share) if use.plan else None,
        "kept_offcuts": list(use.kept_offcuts), "kept_offcuts_cost": text(use.kept_cost),
        "plan": [
            {
                "sheet": sheet.number, "kept_offcut": sheet.kept_offcut, "width_mm": text(sheet.width_mm),
                "height_mm": text(sheet.height_mm), "trim_mm": text(sheet.trim_mm),
                "cuts": [
                    {"cut": cut.number, "upright": cut.upright, "measured_mm": text(cut.measured_mm),
                     "piece_left_mm": text(cut.piece_left_mm), "piece_bottom_mm": text(cut.piece_bottom_mm),
                     "piece_width_mm": text(cut.piece_width_mm), "piece_height_mm": text(cut.piece_height_mm)}
                    for cut in sheet.cuts
                ],
                "pieces": [
                    {"pane": piece.pane.label, "left_mm": text(piece.left_mm), "bottom_mm": text(piece.bottom_mm),
                     "width_mm": text(piece.width_mm), "height_mm": text(piece.height_mm), "turned": piece.turned}
                    for piece in sheet.pieces
                ],
                "offcuts": [
                    {"left_mm": text(o.left_mm), "bottom_mm": text(o.bottom_mm), "width_mm": text(o.width_mm),
                     "height_mm": text(o.height_mm)}
                    for o in sheet.offcuts
                ],
            }
            for sheet in use.plan
        ],
    }


def _price(estimate: Estimate) -> dict[str, Any]:
    price, house = estimate.price, estimate.basis.house
    return {
        "cost": text(price.cost), "margin_share": text(house.margin_share), "markup_share": text(price.markup_share),
        "before_rounding": text(price.before_rounding), "minimum_charge": text(house.minimum_charge),
        "price_step": text(house.price_step), "price": text(price.price), "discount": text(price.discount),
        "own_prices_change": text(price.own_prices_change),
        "net": text(price.net), "below_minimum": price.below_minimum, "tax_share": text(house.tax_share),
        "tax": text(price.tax), "total": text(price.total), "deposit_share": text(house.deposit_share),
        "deposit": text(price.deposit), "margin_reached_share": _optional(price.margin_reached),
        "line_prices": [text(line_price) for line_price in price.line_prices],
    }
