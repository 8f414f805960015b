"""The published fields of an estimate: decimal strings, the unit in each name, money in `currency`."""

from __future__ import annotations

from typing import Any

Schema = dict[str, Any]
TEXT: Schema = {"type": "string"}
COUNT: Schema = {"type": "integer"}
YES: Schema = {"type": "boolean"}
FIGURE: Schema = {"type": "string", "pattern": r"^-?[0-9]+(\.[0-9]{1,9})?$"}
MAYBE: Schema = {"type": ["string", "null"]}
DAY: Schema = {"type": ["string", "null"], "format": "date"}


def _all(**properties: Schema) -> Schema:
    return {
        "type": "object", "properties": properties, "required": list(properties), "additionalProperties": False,
    }


def _figures(*names: str) -> dict[str, Schema]:
    return dict.fromkeys(names, FIGURE)


def _many(items: Schema) -> Schema:
    return {"type": "array", "items": items}


def estimate_schema() -> Schema:
    """Return the schema of what `manage.py estimate` prints."""
    spot = dict.fromkeys(("from_left_mm", "from_bottom_mm", "from_left_on_the_back_mm"), FIGURE)
    hole = _all(kind={"enum": ["hole", "socket"]}, **_figures("width_mm", "height_mm"), **spot)
    line = _all(
        line=COUNT, recipe=TEXT, shape=TEXT, quantity=COUNT, plan={"enum": ["spares", "rework"]},
        good_before=COUNT, started_before=COUNT, size_is_opening=YES, place=TEXT, holes=_many(hole),
        yield_of_sizes_over_m2=MAYBE, panes_to_start=COUNT, spare_panes=COUNT,
        **_figures(
            "width_mm", "height_mm", "joint_mm", "opening_width_mm", "opening_height_mm", "area_m2",
            "bounding_m2", "perimeter_m", "cut_width_mm", "cut_height_mm",
            "pane_kg", "ordered_kg", "yield_share", "chance_met", "started_m2", "minutes_steps",
            "minutes_mixing",
            "minutes_cutting_and_edges", "minutes_set_up_and_packing", "minutes_helper", "minutes_owner", "minutes",
            "chemistry", "labour", "overhead", "glass", "bought_in", "rework", "cost", "line_price",
            "line_price_worked_out",
        ),
        own_price_each=MAYBE,
    )
    ingredient = _all(
        number=COUNT, of=TEXT, unit=TEXT, makes_up_to_volume=YES, scales_with_strength=YES, not_measurable=YES,
        **_figures("amount"),
    )
    mix = _all(
        mix=COUNT, solution=TEXT, solution_version=COUNT, mixed_for={"enum": ["pane", "load", "loads", "job", "batch"]},
        recipe=MAYBE, step={"type": ["integer", "null"]}, load={"type": ["integer", "null"]}, pane=MAYBE,
        shared_by_loads=_many(_all(load=COUNT, **_figures("needed_ml"))),
        inside_mix={"type": ["integer", "null"]}, charged={"type": "object", "additionalProperties": FIGURE},
        batches=_many(_all(batch=COUNT, made_ml=FIGURE, ingredients=_many(ingredient))),
        **_figures("strength", "needed_ml", "made_ml", "spare_ml", "mixing_minutes", "material_cost"),
    )
    corner = _figures("left_mm", "bottom_mm", "width_mm", "height_mm")
    glass = _all(
        glass=TEXT, sheets=COUNT, sheet_cost_source=TEXT, sheet_cost_date=DAY, used_share=MAYBE,
        kept_offcuts=_many(COUNT), kept_offcuts_cost=FIGURE,
        plan=_many(_all(
            sheet=COUNT, kept_offcut={"type": ["integer", "null"]}, **_figures("width_mm", "height_mm", "trim_mm"),
            cuts=_many(_all(cut=COUNT, upright=YES, **_figures(
                "measured_mm", "piece_left_mm", "piece_bottom_mm", "piece_width_mm", "piece_height_mm"))),
            pieces=_many(_all(pane=TEXT, turned=YES, **corner)), offcuts=_many(_all(**corner))
        )),
        **_figures("sheet_cost", "offcut_credit", "cost"),
    )
    return {"title": "An estimate", **_all(
        as_of={"type": "string", "format": "date"}, currency=TEXT, lines=_many(line),
        loads=_many(_all(
            recipe=TEXT, load=COUNT, panes=_many(TEXT), oversize_method=TEXT, layout_found=YES,
            **_figures("area_m2", "bounding_m2"),
        )),
        applied=_many(_all(recipe=TEXT, step=COUNT, load=COUNT, **_figures("wetted_m2", "applied_ml"))),
        mixes=_many(mix),
        materials=_many(_all(
            material=TEXT, stock_unit=TEXT, unit_cost_source=TEXT, unit_cost_date=DAY,
            **_figures("amount", "unit_cost", "cost", "silver_g"),
        )),
        glass=_many(glass), minutes=FIGURE,
        cutting=_many(_all(
            glass=TEXT, sheets=COUNT, fewest_sheets_possible={"type": ["integer", "null"]}, first_answer_sheets=COUNT,
            **_figures("fewest_m2_possible", "first_answer_cost", "used_share", "cost"),
        )),
        price=_all(
            below_minimum=YES, margin_reached_share=MAYBE, line_prices=_many(FIGURE),
            **_figures(
                "cost", "margin_share", "markup_share", "before_rounding", "minimum_charge", "price_step", "price",
                "discount", "own_prices_change", "net", "tax_share", "tax", "total", "deposit_share", "deposit",
            ),
        ),
        chance_all_met=FIGURE,
        bought_in=_many(_all(
            name=TEXT, kind=TEXT, line={"type": ["integer", "null"]}, markup_share=MAYBE, before=TEXT, days=COUNT,
            due_on=DAY, cost=FIGURE,
        )),
        crates=_many(_all(crate=COUNT, panes={"type": "object", "additionalProperties": COUNT},
                          **_figures("glass_kg", "gross_kg"))),
        carrying_cautions=_many(TEXT),
        timetable=_all(
            hands=COUNT, benches=COUNT, no_timetable_is_shorter=YES,
            **_figures("job_mixing_minutes", "finish_minutes", "labour_minutes", "idle_minutes"),
            loads=_many(_all(recipe=TEXT, load=COUNT, steps=_many(_all(
                step=COUNT, only_mixing=YES, attended=YES, may_wait=YES,
                **_figures("starts_minute", "work_minutes", "mixing_minutes", "dwell_minutes"),
            )))),
        ),
        promise=_all(hand_over_on=DAY, stages=_many(_all(what=TEXT, on=DAY, because=TEXT))),
        silver=_all(rest_g=MAYBE, **_figures("into_job_g", "with_rework_g", "on_good_panes_g", "kept_leftovers_g")),
        warnings=_many(TEXT),
        rests_on=_all(
            price_with_silver_10_percent_dearer=MAYBE,
            price_by_silver_factor={"type": "object", "additionalProperties": MAYBE},
            price_by_quantity_factor={"type": "object", "additionalProperties": MAYBE},
            unit_costs_older_than_180_days=_many(TEXT), draft_recipes=_many(TEXT),
            never_tried=_many(TEXT), mixes_that_keep_less_than_the_job=_many(TEXT),
            too_little_to_weigh=_many(_all(
                solution=TEXT, ingredient=TEXT,
                **_figures("amount_g", "larger_mix_ml", "stock_solution_g_per_l", "stock_solution_ml"),
            )),
            too_little_to_pour=_many(_all(solution=TEXT, ingredient=TEXT, **_figures("amount_ml", "larger_mix_ml"))),
            **_figures("cost_band_p10", "cost_band_p90", "clock_minutes"),
        ),
    )}
