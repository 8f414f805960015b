"""What materials react as, their GHS codes, and the pairs that must not meet. Pure data: no Django.

Each row has its source; where that is only "common chemistry", the row was written from memory. Suppliers' safety
data sheets, local codes and licensed practice come first.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

#: what a material reacts as, by code, in words
REACTS_AS: dict[str, str] = {
    "silver_salt": "silver salt", "ammonia": "ammonia", "caustic": "caustic", "acid": "acid",
    "oxidising_acid": "oxidising acid", "oxidiser": "oxidiser", "sulfide": "sulfide",
    "hypochlorite": "hypochlorite", "solvent": "alcohol or solvent", "reducer": "sugar or other reducer",
    "fluoride": "fluoride", "iron_chloride": "iron(III) chloride", "tin_salt": "tin(II) salt",
    "copper_salt": "copper salt",
}

#: UN GHS pictograms by code.
PICTOGRAMS: dict[str, str] = {
    "GHS01": "exploding bomb", "GHS02": "flame", "GHS03": "flame over circle", "GHS04": "gas cylinder",
    "GHS05": "corrosion", "GHS06": "skull and crossbones", "GHS07": "exclamation mark", "GHS08": "health hazard",
    "GHS09": "environment",
}

#: Words of the UN GHS hazard statements that this trade's materials carry ("purple book"; written from memory).
HAZARD_STATEMENTS: dict[str, str] = {
    "H225": "Highly flammable liquid and vapour", "H226": "Flammable liquid and vapour",
    "H272": "May intensify fire; oxidiser", "H290": "May be corrosive to metals", "H301": "Toxic if swallowed",
    "H302": "Harmful if swallowed", "H304": "May be fatal if swallowed and enters airways",
    "H311": "Toxic in contact with skin", "H314": "Causes severe skin burns and eye damage",
    "H315": "Causes skin irritation", "H317": "May cause an allergic skin reaction",
    "H318": "Causes serious eye damage", "H319": "Causes serious eye irritation", "H331": "Toxic if inhaled",
    "H335": "May cause respiratory irritation", "H336": "May cause drowsiness or dizziness",
    "H341": "Suspected of causing genetic defects", "H350": "May cause cancer",
    "H373": "May cause damage to organs through prolonged or repeated exposure",
    "H400": "Very toxic to aquatic life", "H410": "Very toxic to aquatic life with long lasting effects",
    "H412": "Harmful to aquatic life with long lasting effects",
    "EUH071": "Corrosive to the respiratory tract",
}

Where = Literal["solution", "between steps", "waste", "storage"]


@dataclass(frozen=True, kw_only=True)
class DangerousPair:
    """Two groups of agents that must not meet: where that holds, and whether it stops or cautions there."""

    name: str
    first: frozenset[str]
    second: frozenset[str]
    reason: str
    source: str
    stops: frozenset[Where]
    cautions: frozenset[Where] = frozenset()

    def met_by(self, agents: Iterable[str], others: Iterable[str]) -> bool:
        """Say whether two sets of agents bring this pair together."""
        agents, others = frozenset(agents), frozenset(others)
        return bool((self.first & agents and self.second & others) or (self.first & others and self.second & agents))


_ACIDS = frozenset({"acid", "oxidising_acid"})
_EVERYWHERE: frozenset[Where] = frozenset({"solution", "between steps", "waste", "storage"})

DANGEROUS_PAIRS: tuple[DangerousPair, ...] = (
    DangerousPair(
        name="sulfide and acid", first=frozenset({"sulfide"}), second=_ACIDS, stops=_EVERYWHERE,
        reason="Acid frees hydrogen sulfide, a poisonous gas, from a sulfide.",
        source="Common chemistry; storage guides of university safety offices.",
    ),
    DangerousPair(
        name="ammonia and hypochlorite", first=frozenset({"ammonia"}), second=frozenset({"hypochlorite"}),
        stops=_EVERYWHERE, reason="Ammonia and bleach form chloramines, which are poisonous.",
        source="Common chemistry; bleach suppliers' safety data sheets.",
    ),
    DangerousPair(
        name="acid and hypochlorite", first=_ACIDS, second=frozenset({"hypochlorite"}), stops=_EVERYWHERE,
        reason="Acid frees chlorine, a poisonous gas, from bleach.",
        source="Common chemistry; bleach suppliers' safety data sheets.",
    ),
    DangerousPair(
        name="silver salt and ammonia", first=frozenset({"silver_salt"}), second=frozenset({"ammonia"}),
        stops=frozenset({"storage"}), cautions=frozenset({"waste", "between steps"}),
        reason="On standing or drying they form explosive silver nitride: never stored, made safe in the same shift.",
        source="Klinger, Scheele and Steele, Chemical & Engineering News 74 (2), 8 January 1996.",
    ),
    DangerousPair(
        name="nitric acid and alcohol", first=frozenset({"oxidising_acid"}), second=frozenset({"solvent"}),
        stops=_EVERYWHERE,
        reason="Nitric acid reacts violently with alcohol; with a silver salt they make explosive silver fulminate.",
        source="Haight, letter in the Journal of Chemical Education; suppliers' safety data sheets.",
    ),
    DangerousPair(
        name="oxidiser and solvent", first=frozenset({"oxidiser", "silver_salt"}), second=frozenset({"solvent"}),
        stops=frozenset({"waste", "storage"}), cautions=frozenset({"solution", "between steps"}),
        reason="An oxidiser feeds a solvent's fire; a dilute published reducer is the one place they meet.",
        source="Storage groups of university safety offices (Georgia Tech, Georgetown, Kentucky).",
    ),
    DangerousPair(
        name="acid and caustic", first=_ACIDS, second=frozenset({"caustic"}),
        stops=frozenset({"waste", "storage"}), cautions=frozenset({"solution", "between steps"}),
        reason="Acid and caustic meet with heat and spatter.",
        source="Storage groups of university safety offices (Georgia Tech, Georgetown, Kentucky).",
    ),
)


def pairs_met(agents: Iterable[str], others: Iterable[str], where: Where) -> list[tuple[DangerousPair, bool]]:
    """Return the pairs that two sets of agents bring together in a place, each with whether it stops there."""
    agents, others = frozenset(agents), frozenset(others)
    return [
        (pair, where in pair.stops)
        for pair in DANGEROUS_PAIRS
        if where in pair.stops | pair.cautions and pair.met_by(agents, others)
    ]


def is_ammoniacal_silver(agents: Iterable[str]) -> bool:
    """Say whether a silver salt and ammonia are together: never stored, whoever asks."""
    return {"silver_salt", "ammonia"} <= set(agents)


def cas_check_digit_holds(number: str) -> bool:
    """Verify a CAS Registry Number: digits from the right times 1, 2, 3 …, modulo 10, is the last digit.

    Source: Chemical Abstracts Service, check digit verification.
    """
    first, _, rest = number.partition("-")
    second, _, check = rest.partition("-")
    if not (first + second + check).isdigit() or len(second) != 2 or len(check) != 1 or not 2 <= len(first) <= 7:
        return False
    weighed = sum(int(digit) * place for place, digit in enumerate(reversed(first + second), start=1))
    return weighed % 10 == int(check)


@dataclass(frozen=True, kw_only=True)
class LabelElements:
    """The hazards on a vessel's label: pictograms by code, the signal word, statements in words."""

    pictograms: tuple[str, ...] = ()
    signal_word: str = ""
    statements: tuple[str, ...] = ()


#: what a graver statement or pictogram makes superfluous (CLP Articles 26 and 27, from memory)
_COVERED = {"H314": {"H315", "H318", "H319"}, "H318": {"H319"}, "H410": {"H400", "H412"}, "H301": {"H302"}}


def label_elements(
    pictograms: Iterable[str], signal_words: Iterable[str], statements: Iterable[str]
) -> LabelElements:
    """Return the hazards of everything in a vessel together; a graver one leaves out the lesser that it covers.

    They are those of what is in it, not of the mix: diluted, it may need less. Safety data sheets come first.
    """
    signs, words, codes = set(pictograms), set(signal_words), set(statements)
    for graver, lesser in _COVERED.items():
        if graver in codes:
            codes -= lesser
    if "GHS06" in signs:
        signs.discard("GHS07")
    if "GHS05" in signs and not codes & {"H302", "H317", "H335", "H336"}:
        signs.discard("GHS07")
    word = "Danger" if "Danger" in words else "Warning" if "Warning" in words else ""
    return LabelElements(pictograms=tuple(sorted(signs)), signal_word=word,
                         statements=tuple(HAZARD_STATEMENTS[code] for code in sorted(codes)))
