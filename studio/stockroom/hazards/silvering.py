"""Which materials are silvering's own by their identity: silver nitrate, what clears it, and dilute reducers.

Told by CAS number or formula alone, never by a name or by a class somebody ticked.
Source of the list: the published formulas that `meeting` names.
"""

from __future__ import annotations

from studio.stockroom.hazards.cas_numbers import substances_written
from studio.stockroom.hazards.identity import Identity

_OWN = frozenset({
    "7761-88-8",  # silver nitrate
    "20667-12-3",  # silver oxide
    "1336-21-6", "7664-41-7",  # ammonia
    "6484-52-2",  # ammonium nitrate
    "1310-73-2", "1310-58-3",  # sodium and potassium hydroxide
    "50-99-7", "492-62-6", "14431-43-7", "5996-10-1",  # dextrose and its hydrate
    "57-50-1", "8013-17-0", "57-48-7",  # sucrose, invert sugar, fructose
    "6381-59-5", "304-59-6",  # Rochelle salt
    "87-69-4",  # tartaric acid
    "50-00-0",  # formaldehyde
    "64-17-5", "67-63-0",  # ethanol, isopropyl alcohol
    "7697-37-2",  # nitric acid, at most 1 % of an old reducer
    "7732-18-5",  # water
})


def is_of_silvering(identity: Identity) -> bool:
    """Say whether a material is silvering's own by its CAS number, or, where it has none, by its formula."""
    if identity.cas:
        return identity.cas in _OWN
    read = identity.read
    return read is not None and any(substance.cas in _OWN for substance in substances_written(read))
