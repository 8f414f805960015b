"""What a material is, and what that tells: the classes it reacts as, what to ask, what cannot be. Pure.

A class that identity tells stands while the identity does; an owner adds to it. A name alone tells nothing: a word in
it is a question. Suppliers' safety data sheets come first.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from studio.kit.errors import DaybookError
from studio.kit.formulas import Formula, FormulaUnknown, read_formula, share_by_mass
from studio.kit.rounding import decimal_string
from studio.kit.typed_numbers import read_whole
from studio.stockroom.hazards.cas_numbers import SUBSTANCES, Substance, substances_written
from studio.stockroom.hazards.classes import REACTS_AS, with_implied
from studio.stockroom.hazards.formula_classes import told_by_formula

#: kinds of material that are used wet: without a class and without “none apply” nobody knows what they do
WET_KINDS = frozenset({"chemical", "sealer", "backing"})
LIGHTEST, HEAVIEST = Fraction(1, 2), Fraction(20)
#: a figure rounded to two or three places may stand a little above the formula's own
_ROUNDING = Fraction(1005, 1000)
_CAS = re.compile(r"([0-9]{2,7})-([0-9]{2})-([0-9])")


def cas_check_digit_holds(number: str) -> bool:
    """Verify a CAS Registry Number: digits from the right times 1, 2, 3 …, modulo 10, is the last digit.

    Source: Chemical Abstracts Service, check digit verification.
    """
    parts = _CAS.fullmatch(number)
    if parts is None:
        return False
    weighed = sum(read_whole(digit) * place for place, digit in enumerate(reversed(parts[1] + parts[2]), start=1))
    return weighed % 10 == read_whole(parts[3])


@dataclass(frozen=True, kw_only=True)
class Identity:
    """What is known of a material that says how it reacts. assay_share: 0 to 1 by mass; None is not known.

    added: the classes that its owner added; they are not told here, only no longer asked for.
    """

    name: str = ""
    kind: str = "chemical"
    cas: str = ""
    formula: str = ""
    hydrate: str = ""
    assay_share: Fraction | None = None
    silver_g_per_unit: Fraction = Fraction(0)
    statements: tuple[str, ...] = ()
    liquid: bool = False
    added: frozenset[str] = frozenset()

    @property
    def read(self) -> Formula | None:
        """Return the formula as it is understood; None for none, or one that is not."""
        try:
            return read_formula(self.formula, self.hydrate) if self.formula.strip() else None
        except FormulaUnknown:
            return None

    @property
    def substance(self) -> Substance | None:
        return SUBSTANCES.get(self.cas)


@dataclass(frozen=True, kw_only=True)
class Told:
    """What an identity tells: classes, each with its reasons, and what it leaves to ask."""

    classes: frozenset[str]
    because: tuple[tuple[str, str], ...]
    questions: tuple[str, ...]

    def why(self, code: str) -> str:
        """Return from what a class is told: “CAS 7761-88-8 is silver nitrate; it holds silver”."""
        return "; ".join(reason for told, reason in self.because if told == code)


#: GHS hazard statements that tell a class by themselves (UN GHS chapters 2.6, 2.7, 2.13 to 2.15)
_STATEMENTS: dict[str, str] = {
    "H270": "oxidiser", "H271": "oxidiser", "H272": "oxidiser", "H224": "flammable", "H225": "flammable",
    "H226": "flammable", "H228": "flammable", "H220": "flammable", "H221": "flammable", "H222": "flammable",
    "H223": "flammable", "H240": "peroxide", "H241": "peroxide", "H242": "peroxide",
    "EUH031": "gas_with_acid", "EUH032": "gas_with_acid",
}
#: GHS hazard statements that say something is left to find out
_TO_ASK: dict[str, str] = {
    **dict.fromkeys(
        ("H200", "H201", "H202", "H203", "H204", "H205", "EUH001", "EUH044"),
        "it can explode: section 10 of its data sheet says what it must not meet.",
    ),
    **dict.fromkeys(
        ("H260", "H261", "EUH014", "EUH029"), "it reacts with water: section 10 of its data sheet says how.",
    ),
    "EUH019": "it forms peroxides on standing: note the day it was opened.",
}
#: what says why something is corrosive
_CORRODES = frozenset({"acid", "acid_reacting", "caustic", "ammonia"})
_FREES_GAS = frozenset({"sulfide", "hypochlorite", "thiosulfate", "cyanide_complex"})

#: words of a name and the class that they may mean: asked, never taken
_WORDS: tuple[tuple[str, str], ...] = (
    (r"bleach|hypochlorite", "hypochlorite"), (r"ammonia\b|ammoniac(?!al)", "ammonia"), (r"ammonium", "ammonium"),
    (r"acid\b|vinegar", "acid"), (r"caustic|lye\b|hydroxide|alkali\w*", "caustic"), (r"peroxide", "peroxide"),
    (r"sulfide|sulphide|liver of sul", "sulfide"), (r"thiosul", "thiosulfate"), (r"cyanide", "cyanide_complex"),
    (r"formal|aldehyde", "aldehyde"), (r"hydrazin", "hydrazine"), (r"fluorid|fluoric", "fluoride"),
    (r"iodine", "iodine"), (r"iodide", "iodide"), (r"permanganate", "permanganate"), (r"nitrate", "nitrate"),
    (r"alcohol|m?ethanol|spirits?\b", "alcohol"), (r"acetone", "acetone"),
    (r"solvent|thinner|lacquer|shellac", "solvent"),
    (r"silver", "silver_salt"), (r"\btin\b|stannous", "tin_salt"), (r"copper", "copper_salt"), (r"chlorid", "chloride"),
    (r"sugar|dextrose|glucose|sucrose", "sugar"), (r"tartrate|tartar|rochelle", "tartrate"),
)


_HYDRATE = re.compile(r"(mono|di|tri|tetra|penta|hexa|hepta|octa|nona|deca)hydrate", re.IGNORECASE)


@lru_cache(maxsize=4096)
def told_by(identity: Identity) -> Told:
    """Return what an identity tells: the union of CAS number with strength, formula, silver content, statements."""
    reasons = list(dict.fromkeys(_reasons(identity)))
    beside = {"caustic_solid"} if identity.liquid else set()
    if _FREES_GAS & {code for code, _ in reasons}:  # the class that frees it says more
        beside.add("gas_with_acid")
    because = [(code, reason) for code, reason in reasons if code not in beside]
    classes = frozenset(code for code, _ in because)
    questions = tuple(_questions(identity, classes | identity.added))
    return Told(classes=classes, because=tuple(because), questions=questions)


def _strength(substance: Substance, identity: Identity) -> str:
    """Return in words at what strength a substance is taken, where that decides; else nothing."""
    if not substance.stronger:
        return ""
    if identity.assay_share is None:
        return ", taken as the strongest that is sold"
    return f" at {decimal_string(identity.assay_share * 100, 1)} %"


def _reasons(identity: Identity) -> Iterator[tuple[str, str]]:
    by_number, read = identity.substance, identity.read
    if by_number is not None:
        because = f"CAS {identity.cas} is {by_number.name}{_strength(by_number, identity)}"
        for code in sorted(by_number.classes_at(identity.assay_share)):
            yield code, because
    if read is not None:
        known = list(substances_written(read))
        for substance in known:
            for code in sorted(substance.classes_at(identity.assay_share)):
                yield code, f"its formula is {read.written}{_strength(substance, identity)}"
        said = {code for substance in known for code in substance.classes_at(None)}
        for code, words in told_by_formula(read):
            if code not in said:
                yield code, words
    if identity.silver_g_per_unit > 0 and not _is_silver_metal(identity):
        yield "silver_salt", "it holds silver"
    for statement in identity.statements:
        if statement in _STATEMENTS:
            yield _STATEMENTS[statement], statement


def _is_silver_metal(identity: Identity) -> bool:
    return (identity.read is not None and set(identity.read.atoms) == {"Ag"}) or identity.cas == "7440-22-4"


def _questions(identity: Identity, classes: frozenset[str]) -> Iterator[str]:
    if identity.kind not in WET_KINDS:
        return
    statements = set(identity.statements)
    explained = identity.substance or identity.read or with_implied(classes) & _CORRODES
    if not explained and statements & {"H290", "H314"}:
        yield "Its statements say that it is corrosive, not whether it is an acid or a caustic: which is it?"
    if statements & {"EUH031", "EUH032"} and not classes & _FREES_GAS:
        yield "With acid it frees a poisonous gas: is it a sulfide, a bleach, a thiosulfate or a cyanide complex?"
    for statement in identity.statements:
        if statement in _TO_ASK:
            yield f"{statement}: {_TO_ASK[statement]}"
    for pattern, code in _WORDS:
        found = re.search(pattern, identity.name, re.IGNORECASE)
        if found and code not in classes:
            yield f"Its name says “{found[0]}”: does it react as {REACTS_AS[code]}?"
    yield from _of_formula(identity, classes)


def _of_formula(identity: Identity, classes: frozenset[str]) -> Iterator[str]:
    read, number = identity.read, identity.substance
    if identity.formula.strip() and read is None:
        yield f"Its formula “{identity.formula}” is not understood, so it tells nothing."
    if identity.cas and number is None and not classes:
        yield f"CAS {identity.cas} is not among the numbers known here: what does its data sheet say?"
    if read is None:
        return
    if set(read.atoms) & {"N"} and re.search(r"N3(?![0-9])|\(N3\)", "".join(read.parts)):
        yield "N3 may be an azide: with silver, copper or lead salts it forms explosive azides."
    if number is not None and number.is_written(read) and number.waters == 0 < read.waters and not number.any_water:
        yield f"CAS {identity.cas} is {number.name} without water, and the formula has some: which is in the bottle?"
    if not read.waters and _HYDRATE.search(identity.name):
        yield "Its name is a hydrate's, and its formula has no water: its molar mass would be worked out too small."


def disagreements(
    identity: Identity, *, stock_unit: str = "g", density: Fraction | None = None
) -> Iterator[DaybookError]:
    """Give what cannot be, beside the field it concerns: formula, number, silver and density that do not fit."""
    if density is not None and not LIGHTEST <= density <= HEAVIEST:
        yield DaybookError("A density is between 0.5 and 20 g/mL: check the figure and its unit.", "density_g_per_ml")
    try:
        read = read_formula(identity.formula, identity.hydrate) if identity.formula.strip() else None
    except FormulaUnknown as unknown:
        yield DaybookError(f"{unknown} Leave it empty where there is none.", unknown.field or "formula")
        return
    number = identity.substance
    if read is not None and number is not None and number.formulas:
        yield from _against_number(read, number)
    if identity.silver_g_per_unit > 0:
        yield from _too_much_silver(identity, stock_unit, density)


def _against_number(read: Formula, number: Substance) -> Iterator[DaybookError]:
    own = number.formulas[0]
    if not number.is_written(read):
        yield DaybookError(
            f"{read.written} is not {number.name}, which CAS {number.cas} names ({own.written}): "
            "correct the formula or the number.", "formula")
    elif own.waters and read.waters != own.waters and read.elements != own.elements and not number.any_water:
        yield DaybookError(
            f"CAS {number.cas} is {number.name}: write its formula {own.written}, or give the other hydrate's number.",
            "formula")


def _too_much_silver(identity: Identity, stock_unit: str, density: Fraction | None) -> Iterator[DaybookError]:
    if stock_unit not in ("g", "mL"):
        return
    a_unit = Fraction(1) if stock_unit == "g" else density or HEAVIEST
    share = share_by_mass("Ag", identity.formula, identity.hydrate) if identity.formula.strip() else Fraction(1)
    most = share * a_unit
    if identity.silver_g_per_unit > most * _ROUNDING:
        what = f"{identity.formula} is {decimal_string(share * 100, 2)} % silver" if identity.formula.strip() else \
            "Nothing holds more silver than it weighs"
        yield DaybookError(
            f"{what}: one {stock_unit} cannot hold more than {decimal_string(most, 4)} g of it.", "silver_g_per_unit")


def silver_content(identity: Identity, *, stock_unit: str, density: Fraction | None) -> Fraction | None:
    """Return g of silver in a stock unit by formula and assay; None where they do not say. No assay counts as pure.

    Where no formula is given, that of the substance counts which the CAS number names.
    """
    if stock_unit not in ("g", "mL") or (stock_unit == "mL" and density is None):
        return None
    if identity.read is not None:
        share = share_by_mass("Ag", identity.formula, identity.hydrate)
    elif not identity.formula.strip() and identity.substance is not None and identity.substance.formulas:
        share = share_by_mass("Ag", identity.substance.formulas[0].written)
    else:
        return None
    if not share:
        return None
    grams = Fraction(1) if stock_unit == "g" else density or Fraction(1)
    return share * (1 if identity.assay_share is None else identity.assay_share) * grams
