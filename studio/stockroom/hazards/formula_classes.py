"""What a formula tells of how a substance reacts: groups of atoms in it, whatever its salt. Pure.

General inorganic chemistry, from memory. It errs towards telling too much: a class too many keeps things apart.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from studio.kit.formulas import Formula

Told = tuple[str, str]

_ALKALI = frozenset({"Li", "Na", "K", "Rb", "Cs", "Ca", "Ba", "Sr", "Mg"})
_NONMETALS = frozenset({"H", "N", "S", "P", "Cl", "Br", "I", "F", "B", "Si", "O", "Se"})
#: metals whose chlorides, nitrates and sulfates make water acid
_ACID_REACTING = frozenset({"Fe", "Al", "Zn", "Sn", "Cr", "Pd", "Ti", "Bi", "Sb", "Zr", "Cu"})


@dataclass(frozen=True, kw_only=True)
class Group:
    """A group of atoms as a formula writes it. organic: whether it counts in a compound of carbon as well."""

    written: re.Pattern[str]
    classes: tuple[str, ...]
    words: str
    organic: bool = True


def _group(written: str, classes: str, words: str, *, organic: bool = True) -> Group:
    return Group(written=re.compile(written), classes=tuple(classes.split()), words=words, organic=organic)


GROUPS: tuple[Group, ...] = (
    _group(r"NH4(?!OH)", "ammonium", "NH4: an ammonium salt"),
    _group(r"NH3(?!SO3|OH)", "ammonia", "NH3: ammonia"),
    _group(r"NH4OH", "ammonia", "NH4OH: ammonia in water"),
    _group(r"N2H[4-6]|NH2NH2", "hydrazine reducer", "N2H4: a hydrazine"),
    _group(r"N2H[56]", "acid_reacting", "a hydrazine salt reacts acid"),
    _group(r"NH[23]OH", "reducer", "a hydroxylamine"),
    _group(r"(?<!H)NO3|\(NO3\)", "nitrate oxidiser", "NO3: a nitrate", organic=False),
    _group(r"\(NO3\)", "nitrate oxidiser", "NO3: a nitrate"),
    _group(r"NO2(?![0-9])", "nitrite oxidiser", "NO2: a nitrite", organic=False),
    _group(r"OCl|ClO(?![2-4])", "hypochlorite oxidiser", "ClO: a hypochlorite", organic=False),
    _group(r"ClO[2-4]|BrO3|IO[34]", "oxidiser", "a chlorate or its kin"),
    _group(r"MnO4", "permanganate oxidiser", "MnO4: a permanganate"),
    _group(r"CrO[34]|Cr2O7", "oxidiser", "a chromate"),
    _group(r"S2O8|SO5", "oxidiser", "S2O8: a persulfate"),
    _group(r"H2O2|BO3(?=H2O2)|NaBO3|Na2O2|K2O2|BaO2|CaO2|MgO2", "peroxide oxidiser", "a peroxide"),
    _group(r"S2O3", "thiosulfate reducer", "S2O3: a thiosulfate"),
    _group(r"(?<!H)SO3(?!H)|S2O[45]", "reducer", "a sulfite"),
    _group(r"HSO[34]|S2O5|H2PO4|HF2", "acid_reacting", "an acid salt"),
    _group(r"CN(?!O)", "cyanide_complex", "CN: a cyanide or its complex"),
    _group(r"K3Fe\(CN\)6", "oxidiser_mild", "a ferricyanide oxidises mildly"),
    _group(r"CO3", "carbonate", "CO3: a carbonate"),
    _group(r"C2O4", "oxalate reducer", "C2O4: an oxalate"),
    _group(r"C4H[45]O6", "tartrate reducer", "C4H4O6: a tartrate"),
    _group(r"COOH|CO2H", "acid organic_acid", "COOH: an organic acid"),
    _group(r"CHO(?=CHO|·|\)|$)", "aldehyde reducer", "CHO: an aldehyde"),
    _group(r"FeCl3", "iron_chloride oxidiser_mild", "FeCl3: iron(III) chloride"),
    _group(r"Fe2\(|Fe\(NO3\)3", "oxidiser_mild", "an iron(III) salt"),
    _group(r"HCN", "acid", "an acid"),
)

Rule = Callable[[Formula, str, frozenset[str]], Iterator[Told]]
_RULES: list[Rule] = []


def _rule(found: Rule) -> Rule:
    _RULES.append(found)
    return found


@_rule
def _silver(formula: Formula, text: str, elements: frozenset[str]) -> Iterator[Told]:
    if "Ag" in elements and elements != {"Ag"}:
        yield "silver_salt", "Ag: a silver compound"
        if elements == {"Ag", "Cl"}:
            yield "silver_chloride", "AgCl: silver chloride"


@_rule
def _metals(formula: Formula, text: str, elements: frozenset[str]) -> Iterator[Told]:
    if elements == {"Sn"}:
        yield "tin_metal", "Sn: tin metal"
    elif "Sn" in elements and not re.search(r"SnCl4|SnO2", text):
        yield from (("tin_salt", "Sn: a tin(II) salt"), ("reducer", "tin(II) reduces"))
    if "Cu" in elements and elements != {"Cu"}:
        yield "copper_salt", "Cu: a copper compound"
    if "Fe" in elements:
        yield "iron", "Fe: an iron compound"
    for symbol, metal in (("Al", "aluminium"), ("Zn", "zinc")):
        if elements == {symbol}:
            yield metal, f"{symbol}: {metal}"
    strong = "Cl" in elements or re.search(r"NO3|SO4", text)
    if elements & _ACID_REACTING and strong and "C" not in elements and text != "CuSO4":
        yield "acid_reacting", "a salt of a strong acid and this metal reacts acid"


@_rule
def _caustics(formula: Formula, text: str, elements: frozenset[str]) -> Iterator[Told]:
    metals = elements & _ALKALI
    if metals and elements - metals == {"O", "H"}:
        yield from (("caustic", "OH: a caustic"), ("caustic_solid", "a solid caustic"))
    elif metals and elements - metals == {"O"} and "Mg" not in metals:
        yield from (("caustic", "an oxide that water turns to a caustic"), ("caustic_solid", "a solid caustic"))
    elif metals and "hypochlorite" in {code for code, _ in _groups(text, elements)}:
        yield "caustic", "bleach holds caustic"


@_rule
def _acids(formula: Formula, text: str, elements: frozenset[str]) -> Iterator[Told]:
    hydride = elements in ({"H", "O"}, {"H", "N"}, {"H"})
    if re.match(r"H[0-9]?(?![a-z0-9])", text) and elements <= _NONMETALS and not hydride:
        yield "acid", "H before a nonmetal: an acid"
    if text == "HNO3":
        yield "oxidising_acid", "HNO3: nitric acid"


@_rule
def _halogens(formula: Formula, text: str, elements: frozenset[str]) -> Iterator[Told]:
    hydrochloride = any(re.fullmatch(r"[0-9]*HCl", part) for part in formula.parts[1:])
    if "Cl" in elements and ("C" not in elements or hydrochloride) and not re.search(r"ClO[2-4]", text):
        yield "chloride", "Cl: a chloride"
    if hydrochloride:
        yield "acid_reacting", "·HCl: a hydrochloride reacts acid"
    if "F" in elements and "C" not in elements:
        yield "fluoride", "F: a fluoride"
    if elements == {"I"}:
        yield from (("iodine", "I2: iodine"), ("oxidiser_mild", "iodine oxidises mildly"))
    elif "I" in elements and not elements & {"C", "O"}:
        yield "iodide", "I: an iodide"


@_rule
def _sulfides(formula: Formula, text: str, elements: frozenset[str]) -> Iterator[Told]:
    if "S" in elements and not elements & {"O", "C", "F", "Cl"} and elements != {"S"}:
        yield from (("sulfide", "S without oxygen: a sulfide"), ("reducer", "a sulfide reduces"))
        if elements & _ALKALI:
            yield "caustic", "an alkali sulfide is caustic"


@_rule
def _organic(formula: Formula, text: str, elements: frozenset[str]) -> Iterator[Told]:
    if elements == {"C", "H"}:
        yield from (("flammable", "a hydrocarbon burns"), ("solvent", "a hydrocarbon"))
    small = formula.atoms.get("C", 0) <= 6
    alcohol = re.search(r"(?<!COO)(?<!CO)OH\)?[0-9]?$", text) and not re.search(r"COOH", text)
    if elements == {"C", "H", "O"} and small and alcohol:
        yield from (("alcohol", "OH on carbon: an alcohol"), ("flammable", "an alcohol burns"),
                    ("solvent", "an alcohol"))


def _groups(text: str, elements: frozenset[str]) -> Iterator[Told]:
    for group in GROUPS:
        if (group.organic or "C" not in elements) and group.written.search(text):
            for code in group.classes:
                yield code, group.words


def told_by_formula(formula: Formula) -> Iterator[Told]:
    """Give every class that a formula's own groups of atoms tell, with why."""
    elements = frozenset(symbol for symbol, number in formula.atoms.items() if number)
    text = "·".join(formula.parts)
    if text in ("H2O", "OH2"):
        yield "water", "H2O: water"
        return
    yield from _groups(text, elements)
    if {"ammonium", "nitrate"} <= {code for code, _ in _groups(text, elements)}:
        yield "ammonium_nitrate", "NH4 and NO3: ammonium nitrate"
    for rule in _RULES:
        yield from rule(formula, text, elements)
