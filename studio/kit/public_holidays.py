"""Public holidays by country and region, from the holidays library. Pure: no Django."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from functools import cache

import holidays
from babel import Locale


@cache
def countries() -> tuple[tuple[str, str], ...]:
    """Return the code (ISO 3166) and the name of every country whose public holidays are known, by name."""
    names = Locale("en").territories
    known = [(code, names.get(code, code)) for code in holidays.list_supported_countries()]
    return tuple(sorted(known, key=lambda entry: entry[1]))


@cache
def regions(country: str) -> tuple[str, ...]:
    """Return the codes of a country's regions that have holidays of their own; none for a country nobody knows."""
    return tuple(holidays.list_supported_countries().get(country, ()))


@cache
def public_holidays(country: str, region: str, year: int) -> Mapping[date, str]:
    """Return a year's public holidays with their names; none where the country is not given or not known."""
    if country not in holidays.list_supported_countries() or (region and region not in regions(country)):
        return {}
    found = holidays.country_holidays(country, subdiv=region or None, years=year, language="en_US")
    return dict(sorted(found.items()))
