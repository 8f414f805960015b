"""What a quote says, frozen as it is saved; and what was frozen in earlier formats, read under today's names."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from fractions import Fraction
from typing import Any

from jobs.estimating.carrying import LOCAL_CODES
from jobs.estimating.estimate import Estimate
from jobs.estimating.go_ahead import ready_in_words
from jobs.models import BoughtIn, Order, OrderLine, SampleApproval
from jobs.quotes.attention import cover_in_words, unpriced_covers
from recipes.models import FinishPicture
from recipes.starting_point import for_customers
from recipes.step_kinds import kind_of
from studio.house.models import House
from studio.kit.rounding import decimal_string

Wording = dict[str, Any]

#: how the wording is written; `in_todays_words` reads every format there was
FORMAT = 4
_IN_WORKING_DAYS = 3


def wording_of(order: Order, house: House, estimate: Estimate) -> Wording:
    """Return the wording of the quote's paper: studio, customer, lines, what is in the price, when it is ready, terms.
    """
    numbers = {line.number for line in estimate.basis.lines}  # of an order with options, those of one choice
    lines = [line for line in order.lines.select_related("recipe_version__finish", "glass") if line.number in numbers]
    bought_in = [item for item in order.bought_in.all() if item.line_number in (None, *numbers)]
    unpriced = _unpriced(estimate)
    return {
        "format": FORMAT,
        "house": {
            "name": house.name, "address": house.address, "email": house.email, "phone": house.phone,
            "tax_number": house.tax_number, "paper": house.paper, "units": house.units,
            "mark": house.mark.sha256 if house.mark else "",
        },
        "customer": {"name": order.customer.name, "address": order.customer.address},
        "title": order.title, "terms": house.terms, "care_note": house.care_note,
        "payment": house.payment_details,
        "tax_name": estimate.basis.house.tax_name, "minor_digits": estimate.basis.house.minor_digits,
        "discount_reason": order.discount_reason,
        "lines": [_line_wording(line) for line in lines],
        "bought_in": [item.name for item in bought_in],
        "finishes": _finishes(lines, {recipe.key for recipe in estimate.subject_to_sample}),
        "sample_fees": _sample_fees(order, lines),
        "matching": matching_of(estimate),
        "local_codes": LOCAL_CODES,
        "ready": {"days": estimate.go_ahead.days, "words": estimate.go_ahead.in_words},
        "in_price": list(_in_the_price(estimate, lines, bought_in)),
        "unpriced": unpriced,
        "not_in_price": [*unpriced, *_not_in_the_price(bought_in)],
    }


def _sample_fees(order: Order, lines: list[OrderLine]) -> list[Wording]:
    """Return what is asked for the samples of a quote's finishes, beside its price. Papers of before say none."""
    versions = {line.recipe_version_id for line in lines}
    rows = SampleApproval.objects.standing().filter(job__order=order, fee__gt=0, recipe_version__in=versions)
    return [{"finish": row.recipe_version.finish.name, "fee": f"{row.fee:f}"}
            for row in rows.select_related("recipe_version__finish")]


def matching_of(estimate: Estimate) -> list[str]:
    """Return what a customer is told of panes that are to match."""
    return [warning.sentence for warning in estimate.warnings if warning.about_a_group]


def _finishes(lines: list[OrderLine], subject_to_sample: set[str]) -> list[Wording]:
    versions = {line.recipe_version.finish_id: line.recipe_version for line in lines}
    asked = {line.recipe_version.finish_id for line in lines if line.recipe_version.key in subject_to_sample}
    pictures = {
        picture.finish_id: picture
        for picture in FinishPicture.objects.filter(
            finish__in=versions, side=FinishPicture.Side.FRONT
        ).select_related("file")
    }
    return [
        {"name": version.finish.name, "description": for_customers(version.finish.description),
         "variation": version.finish.typical_variation, "subject_to_sample": pk in asked,
         "picture": pictures[pk].file.sha256 if pk in pictures else "",
         "picture_caption": pictures[pk].caption if pk in pictures else ""}
        for pk, version in versions.items()
    ]


def _line_wording(line: OrderLine) -> Wording:
    glass = line.glass
    return {
        "number": line.number, "quantity": line.quantity, "shape": line.shape, "typed": line.size_text,
        "width_mm": f"{line.width_mm:f}", "height_mm": f"{line.height_mm:f}",
        "finish": line.recipe_version.finish.name, "version": line.recipe_version.number,
        "glass_name": glass.name, "glass": f"{glass.tint} glass, {glass.treatment}",
        "thickness_mm": decimal_string(Fraction(glass.thickness_mm or 0), 1),
        "route": line.route, "edge": line.edge, "backing": line.get_backing_display() if line.backing else "",
        "match_group": line.match_group, "note": line.note, "place": line.place, "holes": len(line.holes),
        "opening": line.opening, "joint_mm": f"{line.joint_mm:f}",
    }


#: what a finish's steps do, as a customer would say it
_WORK = (("silver", "silvering"), ("antique", "ageing"), ("seal", "sealing"), ("back", "a painted back"))


def _in_the_price(estimate: Estimate, lines: list[OrderLine], bought_in: list[BoughtIn]) -> Iterator[str]:
    routes = {line.route for line in lines}
    if routes != {OrderLine.Route.OWN}:
        yield "glass cut to the finished size, edges as said"
    if OrderLine.Route.OWN in routes:
        yield "work on your own glass, edges as said"
    kinds = {step.kind for recipe in estimate.basis.line_recipes() for step in recipe.steps
             if step.parts or not kind_of(step.kind).covers}  # a cover that names no paint is in no price
    work = [words for kind, words in _WORK if kind in kinds]
    yield f"{', '.join(work[:-1])} and {work[-1]}, by hand" if len(work) > 1 else "the work of the finish, by hand"
    if any(estimate.panes[line.number].panes_to_start > line.quantity for line in lines):
        yield "spare panes begun with yours, so that one mishap costs you no time"
    if any(line.backing for line in lines):
        yield "a backing board where said"
    yield from dict.fromkeys(item.name for item in bought_in)
    yield "packing"


def _unpriced(estimate: Estimate) -> list[str]:
    """Return what a step of a finish puts on and no solution prices, each once."""
    return list(dict.fromkeys(
        f"{cover_in_words(step)} of {recipe.finish}" for recipe, step in unpriced_covers(estimate)))


def _not_in_the_price(bought_in: list[BoughtIn]) -> Iterator[str]:
    kinds = {item.kind for item in bought_in}
    if BoughtIn.Kind.CARRIAGE not in kinds:
        yield "carriage"
    if BoughtIn.Kind.FRAMING not in kinds:
        yield "frames, unless named above"
    yield "taking measurements and fixing on site"
    if BoughtIn.Kind.TOUGHENING not in kinds:
        yield "toughening or safety backing: say so before we cut"


def in_todays_words(wording: Wording, figures: Wording, basis: Wording) -> Wording:
    """Return a frozen wording as the newest format has it. The first format said issue and story.

    The fourth names the glass by its own name and says how to pay; a paper of before does neither. Before the third, it
    named the day of delivery, if work began at once: it is said in working days now, never fewer than the calendar days
    that it was worked out as.
    """
    if "format" not in wording:
        wording = {
            **wording,
            "lines": [{**line, "version": line["issue"]} for line in wording["lines"]],
            "finishes": [{**finish, "description": finish["story"]} for finish in wording["finishes"]],
        }
    if wording.get("format", 1) >= _IN_WORKING_DAYS:
        return wording
    days = 0
    if "promise" in figures:
        days = (date.fromisoformat(figures["promise"]["hand_over_on"]) - date.fromisoformat(basis["as_of"])).days + 1
    return {
        **wording, "ready": {"days": days, "words": ready_in_words(days)} if days else None,
        "finishes": [{**finish, "subject_to_sample": False} for finish in wording["finishes"]],
        "in_price": wording["bought_in"], "not_in_price": [],
    }
