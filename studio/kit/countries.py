"""Which currency is used where, and which country a browser and a time zone tell of. By CLDR, no Django."""

from __future__ import annotations

import re
from functools import cache
from zoneinfo import available_timezones

from babel import Locale
from babel.core import get_global
from babel.numbers import get_territory_currencies

from studio.kit.currencies import sign

#: “en-GB;q=0.8” of an Accept-Language header (RFC 9110)
_LANGUAGE = re.compile(r"\s*[A-Za-z]{2,3}(?:-[A-Za-z]{4})?-([A-Z]{2})\b")


def currency_of(territory: str) -> str:
    """Return the code of the money that a country (ISO 3166) uses today; "" where none is known."""
    used = get_territory_currencies(territory)
    return used[0] if used else ""


@cache
def zones() -> tuple[tuple[str, str], ...]:
    """Return every time zone that lies in a country, with the code of that country's money, by name."""
    territories = get_global("zone_territories")
    known = available_timezones()
    named = [(name, currency_of(territory)) for name, territory in territories.items()
             if name in known and "/" in name and not name.startswith("Etc/")]
    return tuple(sorted(named))


@cache
def currencies() -> tuple[tuple[str, str], ...]:
    """Return the code and the name of every currency in use somewhere: (“GBP”, “British Pound, £ (GBP)”), by name."""
    names = Locale("en").currencies
    codes = {code for _, code in zones() if code}
    shown = {code: f"{names.get(code, code)}, {sign(code)} ({code})" if sign(code) != code
             else f"{names.get(code, code)} ({code})" for code in codes}
    return tuple(sorted(shown.items(), key=lambda entry: entry[1]))


def territory_asked_for(languages: str) -> str:
    """Return the first country that an Accept-Language header names; "" where it names none."""
    for language in languages.split(","):
        found = _LANGUAGE.match(language)
        if found:
            return found[1]
    return ""


def zone_of(territory: str) -> str:
    """Return the time zone of a country that has just one; "" where it has several, or none is known."""
    known = {name for name, _ in zones()}
    named = [name for name in get_global("territory_zones").get(territory, ()) if name in known]
    return named[0] if len(named) == 1 else ""
