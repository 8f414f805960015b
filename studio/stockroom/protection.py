"""What to wear and have, by what a step or mix reacts as and by its hazard statements together. Pure.

Suppliers' safety data sheets, local codes and licensed practice come first. Sources: suppliers' safety data sheets and
university guides, from memory.
"""

from __future__ import annotations

from collections.abc import Iterable

from studio.stockroom.hazards.classes import UNCLASSED, with_implied

GLOVES, OFTEN, ACID_PROOF = "nitrile gloves", "nitrile gloves, changed often", "acid-proof gloves"
GOGGLES, FACE = "goggles", "goggles and face shield"
APRON, EXTRACTION, NO_FLAME = "apron", "extraction on", "no flame"
BREATHING = "breathing protection as chosen for this studio"
FLUORIDE = ("owner only, with trained first aid", "never alone", "calcium gluconate gel on hand")
#: what nobody has read the data sheet of
UNKNOWN = "unknown: goggles, gloves, apron, extraction until its data sheet is read"
GLASS = ("cut-proof gloves for bare edges", "closed shoes")
#: what anything but water asks for, whatever it is
LEAST = (GLOVES, GOGGLES)

_SPLASH = (GLOVES, GOGGLES, APRON)
_FUME = (*_SPLASH, EXTRACTION)
_BURNS = (ACID_PROOF, FACE, APRON)
_VAPOUR = (GLOVES, GOGGLES, EXTRACTION, NO_FLAME)

#: class → what to wear and have: every class of `hazards.classes` has its row
PROTECTION: dict[str, tuple[str, ...]] = {
    "silver_salt": _SPLASH, "silver_chloride": LEAST, "ammonia": _FUME, "ammonium": LEAST, "caustic": _SPLASH,
    "caustic_solid": (GLOVES, FACE, APRON), "acid": _FUME, "acid_strong": (*_BURNS, EXTRACTION),
    "organic_acid": _FUME, "acid_reacting": _SPLASH, "hydrochloric": _FUME, "sulfuric_strong": _BURNS,
    "oxidising_acid": (*_BURNS, EXTRACTION), "oxidiser": LEAST, "oxidiser_mild": LEAST, "nitrate": LEAST,
    "ammonium_nitrate": LEAST, "nitrite": LEAST, "permanganate": _SPLASH, "peroxide": (GLOVES, FACE, APRON),
    "hypochlorite": _FUME, "chloride": LEAST, "sulfide": _FUME, "thiosulfate": LEAST, "cyanide_complex": LEAST,
    "aldehyde": (OFTEN, GOGGLES, APRON, EXTRACTION), "sugar": LEAST, "tartrate": LEAST, "oxalate": _SPLASH,
    "hydrazine": (OFTEN, FACE, APRON, EXTRACTION, BREATHING), "reducer": LEAST, "tin_salt": _SPLASH,
    "tin_metal": LEAST, "copper_salt": LEAST, "iron": LEAST, "iron_chloride": _SPLASH,
    "iodine": (*_SPLASH, EXTRACTION), "iodide": LEAST,
    "fluoride": (*FLUORIDE, ACID_PROOF, FACE, APRON, EXTRACTION), "carbonate": LEAST,
    "alcohol": _VAPOUR, "acetone": _VAPOUR, "solvent": _VAPOUR, "flammable": _VAPOUR, "acetylene": _VAPOUR,
    "aluminium": LEAST, "zinc": LEAST, "abrasive": LEAST, "water": (), "water_based_binder": LEAST,
    "gas_with_acid": (GLOVES, GOGGLES, EXTRACTION),
}

_LUNGS = (GLOVES, GOGGLES, EXTRACTION, BREATHING)
_LASTING = (OFTEN, GOGGLES, APRON, EXTRACTION)
#: hazard statement → what it asks for besides; H340 to H373 with letters after them are found by their number
STATEMENTS: dict[str, tuple[str, ...]] = {
    **dict.fromkeys(("H314", "H318"), (GLOVES, FACE, APRON)),
    **dict.fromkeys(("H330", "H331", "H332", "H333", "H334", "H335"), _LUNGS),
    "H336": (EXTRACTION,), **dict.fromkeys(("EUH071", "EUH029", "EUH031", "EUH032"), _LUNGS),
    **dict.fromkeys(("H310", "H311", "H312", "H313", "EUH070"), (GLOVES, GOGGLES, APRON)),
    **dict.fromkeys(("H300", "H301", "H302", "H303", "H315", "H316", "H319", "H320", "EUH066"), LEAST),
    "H317": (OFTEN, GOGGLES),
    **dict.fromkeys(("H340", "H341", "H350", "H351", "H360", "H361", "H362", "H370", "H371", "H372", "H373"), _LASTING),
    **dict.fromkeys(("H220", "H221", "H222", "H223", "H224", "H225", "H226", "H228", "EUH018", "EUH209"), _VAPOUR),
    **dict.fromkeys(("H240", "H241", "H242", "H250", "H251", "H252", "H260", "H261"), (GLOVES, FACE, APRON, NO_FLAME)),
    **dict.fromkeys(("H270", "H271", "H272"), (*LEAST, NO_FLAME)),
}

#: the words in the order they are put on
_ORDER = (*FLUORIDE, UNKNOWN, ACID_PROOF, OFTEN, GLOVES, FACE, GOGGLES, APRON, EXTRACTION, BREATHING, NO_FLAME, *GLASS)
#: what a stronger word says already
_SAID_BY = {ACID_PROOF: (GLOVES,), OFTEN: (GLOVES,), FACE: (GOGGLES,)}


def _asked_by(statement: str) -> Iterable[str]:
    for part in statement.split("+"):
        number = part if part.startswith("EUH") else part[:4]
        yield from STATEMENTS.get(number, ())


def protection_for(
    agents: Iterable[str], statements: Iterable[str] = (), *, glass: bool = False, sprayed: bool = False,
    chemical: bool = False,
) -> list[str]:
    """Return what to wear and have, each once, in the order it is put on.

    agents: classes of all that is in it, `unclassed` among them where nobody has read a data sheet. chemical: it holds
    something besides water, and so is never without gloves and goggles, whatever is known of it.
    """
    agents = frozenset(agents)
    words = {word for agent in with_implied(agents) for word in PROTECTION.get(agent, ())}
    words |= {word for statement in statements for word in _asked_by(statement)}
    if UNCLASSED in agents:
        words.add(UNKNOWN)
    elif chemical:
        words |= set(LEAST)
    if sprayed:
        words |= {BREATHING, EXTRACTION}
    if glass:
        words |= set(GLASS)
    said = {lesser for word in words for lesser in _SAID_BY.get(word, ())}
    return [word for word in _ORDER if word in words - said]
