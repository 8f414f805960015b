"""The letter that a quote goes with: the studio's own text with its words filled in, looked over before it is sent."""

from __future__ import annotations

import re
from collections.abc import Sequence
from fractions import Fraction

from django.core.exceptions import ValidationError
from django.core.validators import validate_email

from jobs.models import Quote
from studio.house.models import House
from studio.kit.currencies import show_money
from studio.kit.errors import DaybookError

#: where the private address goes; it is kept so, and filled in only in what is sent
LINK = "[link]"
MOST_ADDRESSES = 5
_LINE_BREAK = re.compile(r"[\x00-\x1f\x7f\x85\u2028\u2029]")
STANDARD = """Dear [customer],

here is [quote], [title]: [total] in all, valid until [until]. It is attached as a PDF.

At this private address you can read it, and accept or decline it by name, without a password:

[link]

Kind regards
[studio]"""


class NoLetter(DaybookError):
    """The letter cannot go out as it is written."""


def standard_subject(quote: Quote) -> str:
    return one_line(f"{quote}: {quote.wording['title']}, {quote.wording['house']['name']}")[:150]


def standard_text(quote: Quote, studio: House) -> str:
    """Return the studio's letter for a quote, all filled in but the private address."""
    filled = {
        "[customer]": quote.wording["customer"]["name"], "[title]": quote.wording["title"],
        "[quote]": f"{str(quote)[0].lower()}{str(quote)[1:]}", "[studio]": studio.name,
        "[total]": _total(quote), "[until]": f"{quote.valid_until:%-d %B %Y}",
    }
    text = studio.mail_text.strip() or STANDARD
    # one pass: what a name holds is never filled in again
    return re.sub("|".join(map(re.escape, filled)), lambda found: filled[found[0]], text)


def _total(quote: Quote) -> str:
    """Return a quote's sum, or of one with options the least and the most that it may come to."""
    sums = [Fraction(choice["total"]) for choice in quote.choices] or [Fraction(quote.total)]
    least, most = (show_money(amount, quote.currency) for amount in (min(sums), max(sums)))
    return least if least == most else f"{least} to {most}"


def one_line(text: str) -> str:
    return " ".join(_LINE_BREAK.sub(" ", text).split())


def checked_subject(subject: str) -> str:
    """Raises NoLetter: a line break in a head would begin another head."""
    if _LINE_BREAK.search(subject.strip()):
        raise NoLetter("The subject is one line.", "subject")
    if not subject.strip():
        raise NoLetter("Write a subject.", "subject")
    return subject.strip()


def checked_text(text: str) -> str:
    if LINK not in text:
        raise NoLetter("Leave [link] where the private address goes: without it nobody can answer.", "text")
    return text


def addresses_in(typed: str) -> Sequence[str]:
    """Return the e-mail addresses somebody typed, apart by comma, semicolon or space. Raises NoLetter."""
    if _LINE_BREAK.search(typed.strip()):
        raise NoLetter("Write the addresses on one line, with commas between.", "addresses")
    found = list(dict.fromkeys(filter(None, re.split(r"[,;\s]+", typed.strip()))))
    if not found:
        raise NoLetter("Write whom it goes to.", "addresses")
    if len(found) > MOST_ADDRESSES:
        raise NoLetter(f"A letter goes to at most {MOST_ADDRESSES} addresses.", "addresses")
    for address in found:
        try:
            validate_email(address)
        except ValidationError as wrong:
            raise NoLetter(f"“{address}” is no e-mail address.", "addresses") from wrong
    return found
