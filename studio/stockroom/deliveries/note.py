"""Read a delivery note or invoice as people have it into rows to confirm: nothing is guessed in silence. Pure.

A line becomes a row of good, lot, amount, price and expiry. What can be read in two ways is a choice, what is missing
or not understood is a mark, and a line that is no good is shown as left out, with why. It never raises.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal

from studio.kit.typed_numbers import read_decimal, whole_number
from studio.stockroom.deliveries.note_goods import Good, name_of
from studio.stockroom.deliveries.note_shapes import LeftOut, Note, NoteRow, marked
from studio.stockroom.deliveries.note_table import head_lines, table_of
from studio.stockroom.deliveries.note_values import (
    asked_below_nothing,
    each_in_words,
    loose_cells,
    sum_in,
    sum_in_words,
    sum_of_the_note,
    with_amount,
    with_expiry,
    with_price,
)
from studio.stockroom.deliveries.note_words import (
    CARRIAGE,
    CUT,
    SUM,
    TAX,
    Amount,
    Day,
    Money,
    below_nothing,
    cut_amounts,
    cut_expiry,
    cut_lot,
    cut_money,
    cut_quantity,
    parted,
    read_day,
)

#: a longer note is no note
MOST_LETTERS, MOST_ROWS = 20_000, 200

CARRIAGE_AGAIN = "Carriage once more: if both are paid, write their sum in its field."
NO_FIGURES = "Neither an amount nor a price stands here."

_SUPPLIER = re.compile(r"^\W*(?:supplier|from|sold by)\s*:\s*(?P<name>.+)$", re.IGNORECASE)
_REFERENCE = re.compile(r"^\W*(?:invoice|delivery note|order)\s*(?:no\.?|number|nr\.?|#)?\s*[:.#]?\s*"
                        r"(?P<number>(?=\S*[0-9])\S+)\s*$", re.IGNORECASE)
_EACH = re.compile(r"\b(?:each|per (?:pack|bottle|unit)|a (?:pack|bottle))\b|@|/\s?(?:pack|ea\b|bottle|unit)",
                   re.IGNORECASE)
_COUNTED = re.compile(r"^\s*(?P<count>[0-9]{1,4})\s+(?=[A-Za-z])")
_PLACE = re.compile(r"^\s*[0-9]{1,3}\s*[.)]\s+")


def read_note(text: str, goods: Sequence[Good], currency: str = "") -> Note:
    """Return a note's rows, and what of it is no row. currency: the studio's code; a sum in another is no price."""
    if len(text) > MOST_LETTERS:
        return Note(marks=(f"That is longer than a delivery note: at most {MOST_LETTERS:,} letters.",))
    lines = [(number, " ".join(line.replace("\u00a0", " ").replace("\x00", " ").split(" ")).strip(" \r"))
             for number, line in enumerate(text.replace("\r\n", "\n").split("\n"), start=1)]
    table = table_of(lines)
    reading = _Reading(goods=goods, currency=currency)
    for number, line in lines:
        if line.strip():
            if table is not None and number in table:
                reading.take_cells(number, line, table[number])
            elif table is None or number not in head_lines(lines, table):
                reading.take_line(number, line)
    return reading.note()


@dataclass
class _Reading:
    goods: Sequence[Good]
    currency: str
    rows: list[NoteRow] = field(default_factory=list)
    left_out: list[LeftOut] = field(default_factory=list)
    supplier: str = ""
    reference: str = ""
    carriage: str = ""
    sums: list[Decimal] = field(default_factory=list)

    def leave(self, number: int, text: str, why: str) -> None:
        self.left_out.append(LeftOut(number=number, text=text, why=why))

    def take_line(self, number: int, line: str) -> None:
        """Read a line without columns."""
        if self._is_about_the_note(number, line):
            return
        rest, day, not_a_day = cut_expiry(parted(line))
        rest, lot = cut_lot(rest)
        place = _PLACE.match(rest)
        rest = rest[place.end():] if place else rest
        below = below_nothing(rest)
        rest, quantity = cut_quantity(rest)
        rest, amounts = cut_amounts(rest)
        rest, sums = cut_money(rest)
        each = bool(_EACH.search(rest))
        rest, loose = loose_cells(rest, has_lot=bool(lot), has_price=bool(sums), has_day=day is not None)
        lot_taken, price_taken = loose.lot, loose.price
        row = NoteRow(number=number, text=line.strip(), lot=lot or lot_taken)
        counted = _COUNTED.match(rest)
        words = (rest[counted.end():] if counted else rest).replace(CUT.strip(), " ").strip()
        if not re.search(r"[^\W0-9_]{2}", words):
            self._take_more_of_the_last(number, line, lot, day, bool(amounts or sums or quantity))
            return
        named = name_of(words, self.goods)
        if not (amounts or sums or price_taken or named.likely):
            self.leave(number, line.strip(), NO_FIGURES)
            return
        marks = [named.why] if named.why else []
        if not_a_day:
            marks.append(f"“{not_a_day}” is no date that was understood.")
        if loose.day is not None:
            day = loose.day
            marks.append("A date alone was taken for the expiry: compare it with the label.")
        if lot_taken and not lot:
            marks.append(f"“{lot_taken}” was taken for the lot number: compare it with the label.")
        if price_taken is not None:
            marks.append(f"“{price_taken}” was taken for the price: compare it with the note.")
        count = whole_number(counted["count"]) if counted and not quantity else 0
        row = replace(row, good=named.code, likely=named.likely, marks=tuple(marks))
        row = with_amount(row, amounts, quantity, count)
        packs = quantity or (amounts[0].count if len(amounts) == 1 else 1)
        sums = [*sums, *([Money(amount=price_taken)] if price_taken is not None else [])]
        self._add(with_expiry(with_price(row, sums, packs, each, self.currency, bool(count > 1)), day), below)

    def _add(self, row: NoteRow, below: str) -> None:
        self.rows.append(asked_below_nothing(row, below) if below else row)

    def take_cells(self, number: int, line: str, cells: Mapping[str, str]) -> None:
        """Read a line whose columns are named."""
        if not any(cells.get(column) for column in ("amount", "quantity", "price", "unit price", "lot", "expires")):
            self.take_line(number, line)
            return
        rest, lot = cut_lot(cells.get("good", ""))
        rest, day, not_a_day = cut_expiry(rest)
        rest, in_name = cut_amounts(rest)
        named = name_of(rest.replace(CUT.strip(), " "), self.goods)
        marks = [named.why] if named.why else []
        _, amounts = cut_amounts(cells.get("amount", ""))
        count = re.fullmatch(r"\s*([0-9]{1,4})\s*(?:x|off|pcs?|ea|sheets?)?\s*", cells.get("quantity", ""))
        _, in_quantity = cut_amounts("" if count else cells.get("quantity", ""))
        amounts = amounts or in_quantity or in_name
        bare = re.fullmatch(r"\s*([0-9]{1,5})\s*", cells.get("amount", ""))
        if cells.get("expires"):
            read = read_day(cells["expires"])
            day, not_a_day = read or day, "" if read else cells["expires"]
        if not_a_day:
            marks.append(f"“{not_a_day}” is no date that was understood.")
        if cells.get("other"):
            marks.append(f"“{cells['other']}” was not read.")
        row = NoteRow(number=number, text=line.strip(), good=named.code, likely=named.likely,
                      lot=cells.get("lot", "") or lot, marks=tuple(marks))
        if not amounts and (bare or count):
            amounts = [Amount(packs=1, number=(bare or count)[1], unit="")]  # type: ignore[index]
            count = None if not bare else count
        row = with_amount(row, amounts, whole_number(count[1]) if count else 0, 0)
        packs = whole_number(count[1]) if count else (amounts[0].count if len(amounts) == 1 else 1)
        figures = (cells.get(column, "") for column in ("good", "quantity", "amount", "unit price", "price", "other"))
        self._add(with_expiry(self._with_column_price(row, cells, packs), day),
                  next(filter(None, map(below_nothing, figures)), ""))

    def _with_column_price(self, row: NoteRow, cells: Mapping[str, str], packs: int) -> NoteRow:
        line, each = (sum_in(cells.get(column, "")) for column in ("price", "unit price"))
        foreign = {money.code for money in (line, each) if money and money.code} - {self.currency, ""}
        if foreign and self.currency:
            return marked(row, f"Its price is in {', '.join(sorted(foreign))}: write it in {self.currency}.")
        if line and each:
            if each.amount * packs == line.amount:
                return replace(row, price=str(line.amount))
            return marked(replace(row, price_choices=(
                (str(line.amount), f"{sum_in_words(line.amount, self.currency)} for the line"),
                (str(each.amount * packs), each_in_words(each.amount, packs, self.currency)),
            )), f"{packs} at {sum_in_words(each.amount, self.currency)} is not "
                f"{sum_in_words(line.amount, self.currency)}: which is the line's price?")
        if each:
            return replace(row, price=str(each.amount * packs))
        return with_price(row, [line] if line else [], packs, each=False, currency=self.currency, counted=False)

    def _is_about_the_note(self, number: int, line: str) -> bool:
        """Take a line that is about the note as a whole: its supplier, number, carriage, tax or sum."""
        supplier, reference = _SUPPLIER.match(line), _REFERENCE.match(line)
        sum_of_it, below = sum_of_the_note(parted(line)), below_nothing(parted(line))
        if supplier:
            self.supplier = supplier["name"].strip()[:80]
            self.leave(number, line.strip(), "The supplier.")
        elif reference:
            self.reference = reference["number"][:60]
            self.leave(number, line.strip(), "The note's number.")
        elif CARRIAGE.match(line) and below:
            self.leave(number, line.strip(), f"“{below}” takes carriage off: write what is paid in its own field.")
        elif CARRIAGE.match(line) and sum_of_it is not None:
            self.leave(number, line.strip(), CARRIAGE_AGAIN if self.carriage else "Carriage, in its own field.")
            self.carriage = self.carriage or str(sum_of_it)
        elif SUM.match(line) or TAX.match(line):
            if SUM.match(line) and sum_of_it is not None and not below:
                self.sums.append(sum_of_it)
            self.leave(number, line.strip(), "Tax: prices here are net." if TAX.match(line) else "A sum of the note.")
        else:
            return False
        return True

    def _take_more_of_the_last(self, number: int, line: str, lot: str, day: Day | None, more: bool) -> None:
        """Give a line of lot and expiry alone to the good above it."""
        last = self.rows[-1] if self.rows else None
        free = last is not None and last.number == number - 1 and not (lot and last.lot) and not (day and last.expires)
        if last is None or more or not (lot or day) or not free:
            self.leave(number, line.strip(), "No good is named here.")
            return
        grown = replace(last, lot=last.lot or lot, text=f"{last.text} / {line.strip()}", number=number)
        self.rows[-1] = with_expiry(grown, day)

    def _begins_with_a_name(self) -> bool:
        """Say whether the first line is left out, holds no figure, and stands above the goods: a letterhead."""
        first = self.left_out[0] if self.left_out else None
        above = first is not None and bool(self.rows) and first.number < min(row.number for row in self.rows)
        return above and first is not None and first.why == NO_FIGURES and not re.search(r"[0-9]", first.text)

    def note(self) -> Note:
        marks = []
        if len(self.rows) > MOST_ROWS:
            self.rows, marks = self.rows[:MOST_ROWS], [f"Only the first {MOST_ROWS} goods were read."]
        if not self.supplier and self._begins_with_a_name():
            self.supplier = self.left_out[0].text[:80]
            marks.append("The supplier was taken from the first line.")
        prices = [read_decimal(row.price) for row in self.rows if row.price]
        added, carried = sum(prices, Decimal(0)), read_decimal(self.carriage or "0")
        if self.sums and len(prices) == len(self.rows) and not {added, added + carried} & set(self.sums):
            both = f"{added}, with carriage {added + carried}" if carried else str(added)
            marks.append(f"The lines add up to {both}, and the note's sum is {self.sums[0]}: compare them.")
        if any(line.why == CARRIAGE_AGAIN for line in self.left_out):
            marks.append("Carriage stands in the note more than once: is what its field says all of it?")
        if not self.rows and not marks:
            marks.append("No line was read as a good: one good a line, with its amount and its price.")
        return Note(rows=tuple(self.rows), left_out=tuple(self.left_out), supplier=self.supplier,
                    reference=self.reference, carriage=self.carriage, marks=tuple(marks))
