"""The trade's materials, to start from: what they are, their hazards as published, how they are usually stored.

Each figure in `trade.json` says where it was read, or that it was worked out, or that it is from memory. The supplier's
own safety data sheet comes first.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

from studio.stockroom.hazards.identity import Identity, silver_content
from studio.stockroom.hazards.statements import on_the_label

_LIST = Path(__file__).with_name("trade.json")


@dataclass(frozen=True, kw_only=True)
class TradeMaterial:
    """One material of the trade as the list has it. Every fact keeps its mark: seen, computed or memory."""

    key: str
    name: str
    synonyms: tuple[str, ...]
    kind: str
    stock_unit: str
    hydrate: str
    storage_place: str
    keeps_days: int | None
    is_offered: bool
    basis: str
    facts: Mapping[str, Mapping[str, Any]]

    def _text(self, name: str) -> str:
        return str(self.facts[name]["value"]) if name in self.facts else ""

    def _number(self, name: str) -> Fraction | None:
        return Fraction(str(self.facts[name]["value"])) if name in self.facts else None

    def _codes(self, name: str) -> tuple[str, ...]:
        return tuple(self.facts[name]["value"]) if name in self.facts else ()

    def source_of(self, name: str) -> str:
        """Return where a fact is from: “seen: A6”, “computed”, “memory”."""
        fact = self.facts.get(name, {})
        return ": ".join(filter(None, (str(fact.get("mark", "")), str(fact.get("source", "")))))

    @property
    def where_statements_are_from(self) -> str:
        """Return in words where its statements are from: a source's title, the limits they follow from, or memory."""
        fact = self.facts.get("statements", {})
        known, named = trade_sources(), str(fact.get("source", "")).split()
        titles = [known[key]["title"] for key in named if key in known]
        if titles:
            return "; ".join(filter(None, (*titles, str(fact.get("note", "")))))
        how = "worked out by the limits of CLP Annex VI" if fact.get("mark") == "computed" else "from memory"
        return ": ".join(filter(None, (how, str(fact.get("note", "")))))

    @property
    def is_liquid(self) -> bool:
        return self.stock_unit == "mL"

    @property
    def is_generic(self) -> bool:
        """Say whether it is a sort of product of which every maker's differs: nothing of its hazards is filled in."""
        return self.basis == "generic"

    @property
    def cas(self) -> str:
        return self._text("cas")

    @property
    def formula(self) -> str:
        return self._text("formula")

    @property
    def assay_share(self) -> Fraction | None:
        percent = self._number("assay_percent")
        return None if percent is None else percent / 100

    @property
    def density(self) -> Fraction | None:
        return self._number("density_g_per_ml")

    @property
    def dissolves_g_per_l(self) -> Fraction | None:
        """Return how much of it a litre of water takes, in g; None where any amount dissolves, or nobody wrote it."""
        value = self.facts.get("solubility_g_per_100_ml", {}).get("value")
        return Fraction(str(value)) * 10 if isinstance(value, int | float) else None

    @property
    def classes(self) -> tuple[str, ...]:
        return () if self.is_generic else self._codes("classes")

    @property
    def statements(self) -> tuple[str, ...]:
        return self._codes("statements")

    @property
    def statement_categories(self) -> dict[str, str]:
        """Return the categories of the statements that do not decide their pictogram alone."""
        return dict(self.facts["statement_categories"]["value"]) if "statement_categories" in self.facts else {}

    @property
    def precautions(self) -> tuple[str, ...]:
        """Return the precautions that suppliers usually give, from memory: at most six, more where the hazard needs it.
        """
        return () if self.is_generic else on_the_label(self._codes("precautions"), self.statements)

    @property
    def pictograms(self) -> tuple[str, ...]:
        return self._codes("pictograms")

    @property
    def signal_word(self) -> str:
        return self._text("signal_word")

    @property
    def keeps(self) -> str:
        return self._text("keeps")

    @property
    def storage_type(self) -> str:
        """Return the type of its storage place."""
        return self._text("storage_type")

    @property
    def storage_flags(self) -> tuple[str, ...]:
        return self._codes("storage_flags")

    @property
    def identity(self) -> Identity:
        return Identity(
            name=self.name, kind=self.kind, cas=self.cas, formula=self.formula, hydrate=self.hydrate,
            assay_share=self.assay_share, statements=self.statements, liquid=self.is_liquid,
        )

    @property
    def silver_g_per_unit(self) -> Fraction:
        content = silver_content(self.identity, stock_unit=self.stock_unit, density=self.density)
        return content or Fraction(0)


def _read(row: Mapping[str, Any]) -> TradeMaterial:
    return TradeMaterial(
        key=row["key"], name=row["name"], synonyms=tuple(row["synonyms"]), kind=row["kind"],
        stock_unit=row["stock_unit"], hydrate=row["hydrate"], storage_place=row["storage_place"],
        keeps_days=row["keeps_days"], is_offered=row["offered"], basis=row["basis"],
        facts={name: fact for name, fact in row.items() if isinstance(fact, dict)},
    )


@cache
def trade_materials() -> tuple[TradeMaterial, ...]:
    """Return the trade's materials in the order of the list."""
    return tuple(_read(row) for row in json.loads(_LIST.read_text(encoding="utf-8"))["materials"])


@cache
def trade_sources() -> dict[str, dict[str, str]]:
    """Return what the list was read in, by short name: title and address."""
    sources: dict[str, dict[str, str]] = json.loads(_LIST.read_text(encoding="utf-8"))["sources"]
    return sources


def listed(cas: str, assay_share: Fraction | None) -> TradeMaterial | None:
    """Return the trade's entry of a number at a strength: the weakest that is as strong, else the strongest there is.

    A strength that nobody gave is taken as the strongest that is sold. None where no entry has the number.
    """
    known = [row for row in trade_materials() if cas and row.cas == cas and not row.is_generic]
    known.sort(key=lambda row: row.assay_share or Fraction(1))
    if assay_share is None:
        return known[-1] if known else None
    at_least = [row for row in known if (row.assay_share or Fraction(1)) >= assay_share]
    return at_least[0] if at_least else known[-1] if known else None


def dissolves_g_per_l(*, cas: str, formula: str, hydrate: str) -> Fraction | None:
    """Return how much of a substance a litre of water takes, in g, by its number or its formula with its hydrate."""
    for material in trade_materials():
        known = material.dissolves_g_per_l
        same = cas == material.cas if cas else (formula, hydrate) == (material.formula, material.hydrate)
        if known is not None and same and (cas or formula):
            return known
    return None
