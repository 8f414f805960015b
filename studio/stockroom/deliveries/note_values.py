"""The amount, price and expiry of a row of a delivery note: said, a choice where it may be either, or asked. Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from fractions import Fraction

from studio.kit.currencies import show_money
from studio.kit.typed_money import NoMoney, read_money
from studio.kit.typed_numbers import read_decimal
from studio.stockroom.deliveries.note_shapes import NoteRow, marked
from studio.stockroom.deliveries.note_words import CUT, Amount, Day, Money, cut_money, read_day

_CODE_ALONE = re.compile(r"[A-Za-z]{0,4}[-/]?[0-9][\w/-]*")
_DATE_ALONE = re.compile(r"[0-9]{1,4}[-/. ](?:[0-9]{1,2}|[A-Za-z]{3,9})(?:[-/. ][0-9]{2,4})?|[A-Za-z]{3,9} [0-9]{4}")
_BARE_PRICE = re.compile(r"[0-9]{1,5}")


@dataclass(frozen=True, kw_only=True)
class Loose:
    """What stood alone between commas, and by its look may be a lot, a price or an expiry."""

    lot: str = ""
    price: Decimal | None = None
    day: Day | None = None


def loose_cells(rest: str, *, has_lot: bool, has_price: bool, has_day: bool) -> tuple[str, Loose]:
    """Return the text without what stands alone between commas or tabs and is still missing, and that."""
    kept, loose = [], Loose()
    for at, part in enumerate(re.split(r"[,;\t|]", rest)):
        bare = part.replace(CUT.strip(), " ").strip()
        if at and not has_price and loose.price is None and _BARE_PRICE.fullmatch(bare):
            loose = replace(loose, price=read_decimal(bare))
        elif at and not has_day and loose.day is None and _DATE_ALONE.fullmatch(bare) and read_day(bare):
            loose = replace(loose, day=read_day(bare))
        elif at and not has_lot and not loose.lot and re.search("[A-Za-z]", bare) and _CODE_ALONE.fullmatch(bare):
            loose = replace(loose, lot=bare)
        else:
            kept.append(part)
    return " , ".join(kept), loose


def with_amount(row: NoteRow, amounts: Sequence[Amount], quantity: int, counted: int) -> NoteRow:
    """Fill in the amount. quantity: packs that a word or column names; counted: a bare number before the name."""
    if not amounts and counted:
        return marked(replace(row, amount_choices=((str(counted), f"{counted} in all"),)),
                       f"“{counted}” may be how many: which amount?")
    if not amounts:
        return marked(row, "No amount stands here: write it as on the label.")
    if len(amounts) > 1:
        choices = tuple((amount.written, amount.written) for amount in dict.fromkeys(amounts))
        return marked(replace(row, amount_choices=choices), "More than one amount stands here: which is it?")
    amount = amounts[0]
    if quantity and amount.packs == 1:
        amount = replace(amount, packs=quantity)
    if amount.thousands:
        row = marked(row, f"The amount was read as {amount.size}.")
    if counted > 1 and amount.packs == 1:
        several = replace(amount, packs=counted)
        return marked(replace(row, amount_choices=((amount.written, f"{amount.written} in all"),
                                                    (several.written, several.written))),
                       f"“{counted}” before the name may be how many packs: which amount?")
    return replace(row, amount=amount.written)


def sum_in(cell: str) -> Money | None:
    """Return the one sum of a cell, a whole number too; None where it holds none, or several."""
    _, sums = cut_money(cell)
    if sums or not cell.strip():
        return sums[0] if len(sums) == 1 else None
    try:
        return Money(amount=read_money(cell, ()))
    except NoMoney:
        return None


def sum_of_the_note(line: str) -> Decimal | None:
    """Return the one sum of a line that is about the whole note; of cells, the last may be a whole number."""
    _, sums = cut_money(line)
    if sums:
        return sums[0].amount if len({money.amount for money in sums}) == 1 else None
    cells = [cell for cell in re.split(r"[,;\t|]", line) if cell.strip()]
    found = sum_in(cells[-1]) if len(cells) > 1 else None
    return found.amount if found else None


def asked_below_nothing(row: NoteRow, words: str) -> NoteRow:
    """Return a row that is less than nothing as a question: it is no delivery until somebody says what came."""
    mark = f"“{words}” tells of a credit or a return, and that is no delivery: leave the line out, or say what came."
    return replace(row, good="", price="", price_choices=(), marks=(mark, *row.marks))


def with_price(
    row: NoteRow, sums: Sequence[Money], packs: int, each: bool, currency: str, counted: bool
) -> NoteRow:
    """Fill in the price of the line. each: a word says that it is of one pack; counted: the packs are not sure."""
    foreign = {money.code for money in sums if money.code} - {currency}
    if foreign and currency:
        return marked(row, f"Its price is in {', '.join(sorted(foreign))}: write it in {currency}.")
    amounts = [money.amount for money in sums]
    if not amounts:
        return marked(row, "No price stands here.")
    pair = next(((one, two) for at, one in enumerate(amounts) for two in amounts[at + 1:] if one * packs == two), None)
    if len(amounts) == 2 and pair and not counted:
        return replace(row, price=str(pair[1]))
    if len(amounts) > 1:
        choices = tuple((str(amount), sum_in_words(amount, currency)) for amount in dict.fromkeys(amounts))
        return marked(replace(row, price_choices=choices), "More than one sum stands here: which is the line's, net?")
    price, said = amounts[0], sum_in_words(amounts[0], currency)
    if packs == 1 and not counted:
        return replace(row, price=str(price))
    if counted:
        return marked(replace(row, price_choices=((str(price), f"{said} in all"),)),
                       f"{said} may be of one pack: what is the line's price?")
    if each:
        return replace(row, price=str(price * packs))
    return marked(replace(row, price_choices=((str(price), f"{said} for all {packs}"),
                                               (str(price * packs), each_in_words(price, packs, currency)))),
                   f"{packs} packs and one price: for all, or each?")


def sum_in_words(amount: Decimal, currency: str) -> str:
    """Return a sum with the studio's sign, once it has a currency."""
    return show_money(Fraction(amount), currency) if currency else str(amount)


def each_in_words(price: Decimal, packs: int, currency: str) -> str:
    """Return what packs come to at the price of one."""
    return f"{sum_in_words(price * packs, currency)}: {sum_in_words(price, currency)} each"


def with_expiry(row: NoteRow, day: Day | None) -> NoteRow:
    """Fill in the expiry; a day that may be either is a choice."""
    if day is None:
        return row
    if day.sure is not None:
        return replace(row, expires=day.sure.isoformat())
    choices = tuple((choice.isoformat(), _in_words(choice)) for choice in day.maybe)
    return marked(replace(row, expires_choices=choices), "Its date can be read in two ways: which day?")


def _in_words(day: date) -> str:
    return f"{day.day} {day:%B %Y}"
