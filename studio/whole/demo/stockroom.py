"""The demo's stockroom at work: a delivery, lots opened and held, a count, made-here lots, waste containers."""

from __future__ import annotations

from typing import Any


def work_the_stockroom(owner: Any, helper: Any) -> None:
    """Do a little of everything, by the services the app uses."""
    from datetime import timedelta
    from decimal import Decimal
    from fractions import Fraction

    from recipes.models import SolutionVersion
    from recipes.solutions.mixing_ahead import mix_ahead
    from studio.house.clock import today
    from studio.stockroom.counts.counting import post_count, record_counts, start_count
    from studio.stockroom.deliveries.receiving import read_table, receive_delivery
    from studio.stockroom.lots.keeping import discard, hold_lot, open_lot
    from studio.stockroom.models import Lot, Material, Purchase, WasteContainer
    from studio.stockroom.waste.containers import hand_over, put_in, silver_returned
    from studio.whole.demo.days import next_key, on

    def first(name: str) -> Lot:
        found = Lot.objects.filter(material__name=name, level__on_hand__gt=0).select_related("material")
        return next(lot for lot in found.order_by("received_on", "pk") if not lot.has_expired(today()))

    with on(80):
        spent = WasteContainer.objects.create(name="S-3", meant_for="silver-bearing rinse, made safe", place="wet room",
                                              opened_on=today() - timedelta(days=20))
        put_in(key=next_key(), container=spent, by=helper, what="First rinses of job 1", agents=["silver_salt"],
               volume_ml=Decimal(9400), silver_g=Decimal("21.4"))
    with on(72):
        hand_over(spent, on=today(), to="Ebb & Daughters, refiners", note="receipt 0412")
    with on(41):
        silver_returned(spent, on=today(), grams=Decimal("17.9"))
    with on(25, 10):
        lines, _ = read_table("Sodium chloride\tL2001\t2 kg\t5.20\nDextrose, anhydrous\tL2002\t2 x 1 kg\t17.40\n"
                              "Filter papers\tL2003\t200 each\t17.00\n")
        receive_delivery(key=next_key(), by=owner, supplier="Quay Provisions", received_on=today(), lines=lines,
                         carriage=Decimal("6.90"), share_by="value", reference="QP 8841")
    with on(20, 9):
        drum = WasteContainer.objects.create(name="S-4", meant_for="silver-bearing rinse, made safe", place="wet room",
                                             opened_on=today())
        acids = WasteContainer.objects.create(name="A-2", meant_for="acid and iron waste", place="acid cabinet",
                                              opened_on=today())
        put_in(key=next_key(), container=drum, by=helper, what="First rinses of job 2", agents=["silver_salt"],
               volume_ml=Decimal(2300), silver_g=Decimal("4.9"))
        put_in(key=next_key(), container=drum, by=helper, what="First rinses and rejects of job 3",
               agents=["silver_chloride", "ammonium"], volume_ml=Decimal(5200), silver_g=Decimal("11.2"))
        put_in(key=next_key(), container=acids, by=helper, what="Spent iron etch", agents=["iron_chloride"],
               volume_ml=Decimal(600))
    with on(13, 15):
        sheet = start_count(key=next_key(), by=helper, place="dry shelf", hide_expected=True)
        counted = {line.pk: line.expected for line in sheet.lines.order_by("pk")}
        off = sheet.lines.order_by("pk").first()
        if off is not None:
            counted[off.pk] = off.expected - Decimal(4)
        record_counts(sheet, counted)
        post_count(sheet, owner)
    with on(9, 14):
        lot = first("Antiquing concentrate")
        discard(key=next_key(), lot=lot, by=helper, amount=Decimal(15), why="knocked over")
        hold_lot(key=next_key(), lot=first("Sodium sulfide"), by=owner, why="Smells through the lid: ask the supplier.")
    with on(4, 8):
        newest = Lot.objects.filter(material__name="Dextrose, anhydrous", opened_on=None).order_by("received_on").last()
        if newest is not None:
            open_lot(key=next_key(), lot=newest, by=helper, on=today())
        for name, volume in (("Tin stock", 500), ("Antiquing gel, diluted", 1500), ("Dextrose reducer", 2000)):
            version = SolutionVersion.objects.get(solution__name=name, number=1)
            mix_ahead(key=next_key(), by=helper, version=version, volume_ml=Fraction(volume), day=today())
    with on(2, 11):
        Purchase.objects.create(
            material=Material.objects.get(name="Silver nitrate"), quantity=Decimal(250), ordered_on=today(),
            due_on=today() + timedelta(days=9), supplier="Pellworth Fine Chemicals", form_key=next_key(),
        )
