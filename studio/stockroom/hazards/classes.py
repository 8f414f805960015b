"""What materials react as: the classes that every rule of safety asks for.

A class may bring others with it (`IMPLIES`), so that saying more never makes anything more permitted.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

#: what a material reacts as, by code, in words
REACTS_AS: dict[str, str] = {
    "silver_salt": "silver salt", "silver_chloride": "silver chloride", "ammonia": "ammonia",
    "ammonium": "ammonium salt", "caustic": "caustic", "caustic_solid": "solid caustic", "acid": "acid",
    "acid_strong": "strong mineral acid", "organic_acid": "organic acid", "acid_reacting": "salt that reacts acid",
    "hydrochloric": "hydrochloric acid", "sulfuric_strong": "strong sulfuric acid",
    "oxidising_acid": "oxidising acid", "oxidiser": "oxidiser", "oxidiser_mild": "mild oxidiser",
    "nitrate": "nitrate", "ammonium_nitrate": "ammonium nitrate", "nitrite": "nitrite",
    "permanganate": "permanganate", "peroxide": "peroxide", "hypochlorite": "hypochlorite (bleach)",
    "chloride": "chloride", "sulfide": "sulfide", "thiosulfate": "thiosulfate",
    "cyanide_complex": "ferri- or ferrocyanide", "aldehyde": "aldehyde", "sugar": "sugar", "tartrate": "tartrate",
    "oxalate": "oxalate", "hydrazine": "hydrazine", "reducer": "other reducer", "tin_salt": "tin(II) salt",
    "tin_metal": "tin metal", "copper_salt": "copper salt", "iron": "iron salt",
    "iron_chloride": "iron(III) chloride", "iodine": "iodine", "iodide": "iodide", "fluoride": "fluoride",
    "carbonate": "carbonate", "alcohol": "alcohol", "acetone": "acetone", "solvent": "solvent",
    "flammable": "flammable", "acetylene": "acetylene", "aluminium": "aluminium", "zinc": "zinc",
    "abrasive": "polish or abrasive", "water": "water", "water_based_binder": "water-based binder",
    "gas_with_acid": "frees poisonous gas with acid",
}

#: not known: neither classed, nor its data sheet read; no owner ticks it
UNCLASSED = "unclassed"
#: what of silver becomes ammoniacal silver
SILVER = frozenset({"silver_salt", "silver_chloride"})

#: what a class brings with it (general chemistry, from memory)
IMPLIES: dict[str, frozenset[str]] = {
    "caustic_solid": frozenset({"caustic"}),
    "acid_strong": frozenset({"acid"}),
    "organic_acid": frozenset({"acid"}),
    "hydrochloric": frozenset({"acid", "chloride"}),
    "sulfuric_strong": frozenset({"acid", "acid_strong"}),
    "oxidising_acid": frozenset({"acid", "oxidiser"}),
    "ammonium_nitrate": frozenset({"ammonium", "nitrate", "oxidiser"}),
    "permanganate": frozenset({"oxidiser"}),
    "hypochlorite": frozenset({"oxidiser", "caustic", "chloride"}),
    "iron_chloride": frozenset({"iron", "acid_reacting", "chloride", "oxidiser_mild"}),
    "alcohol": frozenset({"solvent", "flammable"}),
    "acetone": frozenset({"solvent", "flammable"}),
}


def with_implied(classes: Iterable[str]) -> frozenset[str]:
    """Return classes with all that they bring with them."""
    return _with_implied(frozenset(classes))


@lru_cache(maxsize=4096)
def _with_implied(classes: frozenset[str]) -> frozenset[str]:
    found, waiting = set(classes), list(classes)
    while waiting:
        more = IMPLIES.get(waiting.pop(), frozenset()) - found
        found |= more
        waiting += more
    return frozenset(found)


def fewest(classes: Iterable[str]) -> frozenset[str]:
    """Return the fewest of some classes that bring all the others with them."""
    there = frozenset(classes)
    return frozenset(code for code in there if not any(code in with_implied({other}) for other in there - {code}))


def is_ammoniacal_silver(agents: Iterable[str]) -> bool:
    """Say whether a silver salt meets ammonia, or an ammonium salt with caustic, which frees it: never stored.

    Silver nitrate, ammonium nitrate and sodium hydroxide are ammoniacal silver without an ammonia bottle (Barry's
    formula). Silver chloride dissolves in ammonia and is ammoniacal silver too.
    """
    there = with_implied(agents)
    silver = bool(there & {"silver_salt", "silver_chloride"})
    return silver and ("ammonia" in there or {"ammonium", "caustic"} <= there)
