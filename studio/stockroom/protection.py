"""Usual protection, by what a step or mix reacts as.

Safety data sheets, local codes and licensed practice come first.
"""

from __future__ import annotations

from collections.abc import Iterable

#: what it reacts as → usual protection at the bench (suppliers' safety data sheets and university guides, from memory)
PROTECTION: dict[str, tuple[str, ...]] = {
    "silver_salt": ("nitrile gloves", "goggles", "apron"),
    "ammonia": ("nitrile gloves", "goggles", "apron", "extraction on"),
    "caustic": ("nitrile gloves", "goggles", "apron"),
    "acid": ("nitrile gloves", "goggles", "apron", "extraction on"),
    "oxidising_acid": ("acid-proof gloves", "goggles and face shield", "apron", "extraction on"),
    "sulfide": ("nitrile gloves", "goggles", "extraction on"),
    "hypochlorite": ("nitrile gloves", "goggles", "extraction on"),
    "solvent": ("nitrile gloves", "extraction on", "no flame"),
    "fluoride": ("owner only, with trained first aid",),
    "iron_chloride": ("nitrile gloves", "goggles", "apron"),
    "tin_salt": ("nitrile gloves", "goggles"),
    "copper_salt": ("nitrile gloves", "goggles"),
}
GLASS = ("cut-proof gloves for bare edges", "closed shoes")


def protection_for(agents: Iterable[str], *, glass: bool = False, sprayed: bool = False) -> list[str]:
    """Return usual protection, each once, in the order of the agents' names."""
    protection = [word for agent in sorted(agents) for word in PROTECTION.get(agent, ())]
    if sprayed:
        protection += ["breathing protection as chosen for this studio", "extraction on"]
    if glass:
        protection += GLASS
    return list(dict.fromkeys(protection))
