"""Forty delivery notes as suppliers write them, invented, and what is to be read of each.

A row is good, lot, amount, price, expiry; "" is nothing there, ASKED a field that must be said and is marked.
"""

from __future__ import annotations

from studio.stockroom.deliveries.note_goods import Good

ASKED = "?"

GOODS = (
    Good(code="silver-nitrate", name="Silver nitrate", synonyms=("lunar caustic", "nitrate of silver"), formula="AgNO3",
         cas="7761-88-8"),
    Good(code="ammonia-25", name="Ammonia solution 25 %", synonyms=("ammonium hydroxide", "ammonia water"),
         cas="1336-21-6"),
    Good(code="ammonia-10", name="Ammonia solution 10 %", synonyms=("ammonium hydroxide", "ammonia water"),
         cas="1336-21-6"),
    Good(code="koh", name="Potassium hydroxide", synonyms=("caustic potash",), formula="KOH", cas="1310-58-3"),
    Good(code="dextrose", name="Dextrose, anhydrous", synonyms=("glucose", "grape sugar"), cas="50-99-7"),
    Good(code="tin", name="Tin(II) chloride dihydrate", synonyms=("stannous chloride", "tin salt"), cas="10025-69-1"),
    Good(code="ferric", name="Iron(III) chloride hexahydrate", synonyms=("ferric chloride",), cas="10025-77-1"),
    Good(code="water", name="Distilled water", synonyms=("demineralised water", "deionised water")),
    Good(code="copper", name="Copper(II) sulfate pentahydrate", synonyms=("blue vitriol",), cas="7758-99-8"),
    Good(code="clear-4", name="Clear float 4 mm", sheet_mm=(2250, 1605)),
    Good(code="clear-6", name="Clear float 6 mm", sheet_mm=(2250, 1605)),
    Good(code="gloves", name="Nitrile gloves"),
)

NOTES: dict[str, tuple[str, list[tuple[str, str, str, str, str]]]] = {
    "as in the help": (
        "Silver nitrate 100 g, lot A17, 86.00, exp 05/2028",
        [("silver-nitrate", "A17", "100 g", "86.00", "2028-05-31")]),
    "price with its sign": ("Silver nitrate 100g £86.00", [("silver-nitrate", "", "100 g", "86.00", "")]),
    "code after the price": ("Silver nitrate 250 g 198.50 GBP", [("silver-nitrate", "", "250 g", "198.50", "")]),
    "comma decimals": ("Silver nitrate 100 g 86,00", [("silver-nitrate", "", "100 g", "86.00", "")]),
    "thousands in the price": ("Silver nitrate 1 kg 1,176.00", [("silver-nitrate", "", "1 kg", "1176.00", "")]),
    "whole price between commas": ("Silver nitrate 100 g, 86", [("silver-nitrate", "", "100 g", "86", "")]),
    "packs before, each and all": (
        "Silver nitrate 2 x 500 g 398.00 796.00", [("silver-nitrate", "", "2 x 500 g", "796.00", "")]),
    "packs and one price": (
        "Silver nitrate 2 x 500 g 398.00", [("silver-nitrate", "", "2 x 500 g", ASKED, "")]),
    "packs and a price each": (
        "2 x 500 g silver nitrate @ 398.00", [("silver-nitrate", "", "2 x 500 g", "796.00", "")]),
    "packs after": ("Potassium hydroxide 500 g (x2) 9.80 each", [("koh", "", "2 x 500 g", "19.60", "")]),
    "bottles of": ("3 bottles of 1 L ammonia solution 25 % at 11.50 each", [("ammonia-25", "", "3 x 1 L", "34.50", "")]),
    "qty": ("Potassium hydroxide 500 g qty 3 9.80 29.40", [("koh", "", "3 x 500 g", "29.40", "")]),
    "a bare number before": ("2 Silver nitrate 500 g 398.00", [("silver-nitrate", "", ASKED, ASKED, "")]),
    "places before": (
        "1. Silver nitrate 100 g 86.00\n2. Potassium hydroxide 500 g 9.80",
        [("silver-nitrate", "", "100 g", "86.00", ""), ("koh", "", "500 g", "9.80", "")]),
    "no strength": ("Ammonia solution 1 L 11.50", [(ASKED, "", "1 L", "11.50", "")]),
    "another strength": ("Ammonia solution 35 % 1 L 11.50", [(ASKED, "", "1 L", "11.50", "")]),
    "the weaker of two": ("Ammonia solution 10% 1 L 7.50", [("ammonia-10", "", "1 L", "7.50", "")]),
    "another name": ("Caustic potash pellets 500 g 9.80", [("koh", "", "500 g", "9.80", "")]),
    "by CAS number": ("Silver nitrate CAS 7761-88-8 AR 100 g 86.00", [("silver-nitrate", "", "100 g", "86.00", "")]),
    "another CAS number": ("Silver nitrate CAS 7783-90-6 100 g 86.00", [(ASKED, "", "100 g", "86.00", "")]),
    "another hydrate": ("Dextrose monohydrate 1 kg 8.40", [(ASKED, "", "1 kg", "8.40", "")]),
    "a solution of it": ("Silver nitrate solution 0.1 M 500 mL 64.00", [(ASKED, "", "500 mL", "64.00", "")]),
    "a cousin": ("Silver chloride 25 g 61.00", [(ASKED, "", "25 g", "61.00", "")]),
    "purity": ("Silver nitrate 99.8 % p.a. 100 g 86.00", [("silver-nitrate", "", "100 g", "86.00", "")]),
    "a brand": ("Silver nitrate Pellworth 100 g 86.00", [(ASKED, "", "100 g", "86.00", "")]),
    "unknown good": ("Hand cream 100 mL 4.00", [(ASKED, "", "100 mL", "4.00", "")]),
    "sulphate": ("Copper(II) sulphate pentahydrate 500 g 7.80", [("copper", "", "500 g", "7.80", "")]),
    "no price": ("Distilled water 25 L", [("water", "", "25 L", ASKED, "")]),
    "no amount": ("Distilled water 11.50", [("water", "", ASKED, "11.50", "")]),
    "two amounts": ("Silver nitrate 100 g / 250 g 86.00", [("silver-nitrate", "", ASKED, "86.00", "")]),
    "another currency": ("Silver nitrate 100 g EUR 99.00", [("silver-nitrate", "", "100 g", ASKED, "")]),
    "a day that reads two ways": (
        "Silver nitrate 100 g 86.00 exp 05/06/2028", [("silver-nitrate", "", "100 g", "86.00", ASKED)]),
    "a day that reads one way": (
        "Silver nitrate 100 g 86.00 use by 31/05/2028", [("silver-nitrate", "", "100 g", "86.00", "2028-05-31")]),
    "month in words": (
        "Silver nitrate 100 g 86.00 expiry: May 2028", [("silver-nitrate", "", "100 g", "86.00", "2028-05-31")]),
    "lot and expiry below": (
        "Silver nitrate 100 g 86.00\n   Batch no: SN-4471  Exp: 2028-05-31",
        [("silver-nitrate", "SN-4471", "100 g", "86.00", "2028-05-31")]),
    "tabs with a head": (
        "Qty\tDescription\tPack\tBatch\tExpiry\tUnit price\tTotal\n"
        "2\tSilver nitrate\t500 g\tSN-1\t05/2028\t398.00\t796.00\n"
        "1\tAmmonia solution 25 %\t1 L\tA2\t\t11.50\t11.50",
        [("silver-nitrate", "SN-1", "2 x 500 g", "796.00", "2028-05-31"), ("ammonia-25", "A2", "1 L", "11.50", "")]),
    "a head whose sums do not fit": (
        "Item;Qty;Pack;Unit price;Total\nSilver nitrate;2;500 g;398.00;800.00",
        [("silver-nitrate", "", "2 x 500 g", ASKED, "")]),
    "glass by the sheet": (
        "4 sheets Clear float 4 mm 2250 x 1605 @ 54.00", [("clear-4", "", "4", "216.00", "")]),
    "glass of another size": (
        "4 sheets Clear float 4 mm 3210 x 2250 @ 84.00", [(ASKED, "", "4", "336.00", "")]),
    "a whole invoice": (
        "Marrow & Tule Chemicals\nInvoice no. 4411\nYour order of Tuesday\n\n"
        "Silver nitrate 100 g 86.00\nTin(II) chloride dihydrate 100 g 17.50\nFerric chloride hexahydrate 500 g 10.40\n"
        "Carriage 6.90\nNet total 120.80\nVAT 20% 24.16\nTotal 144.96\nThank you",
        [("silver-nitrate", "", "100 g", "86.00", ""), ("tin", "", "100 g", "17.50", ""),
         ("ferric", "", "500 g", "10.40", "")]),
}
