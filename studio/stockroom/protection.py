"""Usual protection and cautions by what a step or mix holds. Data with sources; local rules and data sheets decide."""

from __future__ import annotations

from collections.abc import Iterable

#: agent class → what is usual at the bench (suppliers' safety data sheets and university guides, from memory)
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
    """Return protection in the order first named, each once."""
    wanted = [word for agent in sorted(agents) for word in PROTECTION.get(agent, ())]
    if sprayed:
        wanted += ["breathing protection as chosen for this studio", "extraction on"]
    if glass:
        wanted += GLASS
    return list(dict.fromkeys(wanted))
