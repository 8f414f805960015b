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
    "ammonium": "ammonium salt", "caustic_solid": "solid caustic", "acid_strong": "strong acid",
    "organic_acid": "organic acid", "acid_reacting": "salt that reacts acid", "hydrochloric": "hydrochloric acid",
    "sulfuric_strong": "strong sulfuric acid", "oxidiser_mild": "mild oxidiser", "nitrate": "nitrate",
    "ammonium_nitrate": "ammonium nitrate", "permanganate": "permanganate", "peroxide": "peroxide",
    "chloride": "chloride", "thiosulfate": "thiosulfate", "cyanide_complex": "cyanide complex",
    "aldehyde": "aldehyde", "sugar": "sugar", "tartrate": "tartrate", "oxalate": "oxalate", "hydrazine": "hydrazine",
    "iron": "iron salt", "iodine": "iodine", "iodide": "iodide", "carbonate": "carbonate", "alcohol": "alcohol",
    "acetone": "acetone", "flammable": "flammable", "acetylene": "acetylene", "nitrite": "nitrite",
    "aluminium": "aluminium metal", "zinc": "zinc metal", "tin_metal": "tin metal",
    "silver_chloride": "silver chloride", "abrasive": "abrasive", "water": "water",
    "water_based_binder": "water-based binder", "gas_with_acid": "frees poisonous gas with acid",
}


def is_ammoniacal_silver(agents: Iterable[str]) -> bool:
    """Say whether a silver salt and ammonia are together: never stored, whoever asks."""
    return {"silver_salt", "ammonia"} <= set(agents)
