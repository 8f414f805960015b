"""What the label of a lot says, and how large its package is."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from django.template.defaultfilters import date
from django.utils.timezone import localtime

from studio.kit.units import show_stock
from studio.stockroom.labels.fitting import Wording
from studio.stockroom.labels.packages import capacity_of
from studio.stockroom.made_here import MadeOf, is_ammoniacal
from studio.stockroom.models import Lot

#: to be written by hand
BLANK = "________"


def sentences(words: Iterable[str]) -> str:
    """Return statements one after the other, each a sentence."""
    return " ".join(f"{statement.rstrip('.')}." for statement in words)


def package_amount(lot: Lot) -> Fraction:
    """Return how much the package of a lot holds, in stock units: its pack, or all of a lot that was less."""
    received, pack = Fraction(lot.quantity_received), lot.material.pack_size
    return min(received, Fraction(pack)) if pack else received


def package_ml(lot: Lot) -> Fraction:
    """Return about how many mL the package of a lot holds."""
    density = lot.material.density_g_per_ml
    return capacity_of(package_amount(lot), lot.material.stock_unit, None if density is None else Fraction(density))


def lot_wording(lot: Lot, *, suppliers_label_stays: bool, made_of: MadeOf | None = None) -> Wording:
    """Return what a lot's label says. What was made here has no supplier's label to point to.

    made_of: what is in a lot made here, whose hazards it carries.
    """
    material, hazards = lot.material, lot.material.label if made_of is None else made_of.label
    unknown = (material.name,) if material.is_unclassed else ()
    identity = ", ".join(filter(None, (f"CAS {material.cas_number}" if material.cas_number else "", lot.supplier)))
    came = f"{'Made' if lot.made_here else 'Received'} {date(lot.received_on, 'j M Y')}"
    if lot.made_at is not None:  # when it was made, however often its label is printed
        came = f"Made {date(localtime(lot.made_at), 'j M Y, H:i')}"
    ammoniacal = is_ammoniacal(lot, made_of)
    opened = f", opened {date(lot.opened_on, 'j M Y') if lot.opened_on else BLANK}"
    until = f"Discard by {lot.until or BLANK}"
    if ammoniacal:  # no date makes it ordinary: it leads with what it is
        opened, until = "", "Held: nobody takes of it. Do not touch what has dried."
    elif lot.is_held:
        until = f"Held: not to be used. {until}"
    lines = (
        (identity, False), (f"Lot {lot.lot_number}, {show_stock(package_amount(lot), material.stock_unit)}", True),
        (f"{came}{opened}", False), (until, True),
        # how it reacts may be known by its number; what its sheet says of it, nobody has entered
        ("Hazards not entered: read its data sheet." if material.hazards_not_entered else "", True),
    )
    return Wording(
        name=material.name, explosive=ammoniacal, lines=tuple((words, bold) for words, bold in lines if words),
        see_supplier=suppliers_label_stays and not lot.made_here,
        pictograms=hazards.pictograms, signal_word=hazards.signal_word, statements=sentences(hazards.statements),
        precautions=sentences(hazards.precautions), unknown=unknown + (made_of.unknown if made_of is not None else ()),
    )
