"""GHS hazard statements, pictograms, signal words, and what a label shows of them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

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
