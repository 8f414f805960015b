"""What materials react as: the classes that every rule of safety asks for."""

from __future__ import annotations

from collections.abc import Iterable

#: what a material reacts as, by code, in words
REACTS_AS: dict[str, str] = {
    "silver_salt": "silver salt", "ammonia": "ammonia", "caustic": "caustic", "acid": "acid",
    "oxidising_acid": "oxidising acid", "oxidiser": "oxidiser", "sulfide": "sulfide",
    "hypochlorite": "hypochlorite", "solvent": "alcohol or solvent", "reducer": "sugar or other reducer",
    "fluoride": "fluoride", "iron_chloride": "iron(III) chloride", "tin_salt": "tin(II) salt",
    "copper_salt": "copper salt",
}


def is_ammoniacal_silver(agents: Iterable[str]) -> bool:
    """Say whether a silver salt and ammonia are together: never stored, whoever asks."""
    return {"silver_salt", "ammonia"} <= set(agents)
