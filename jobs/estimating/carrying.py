"""The weight of the glass to carry and to hang: per pane, and per crate as packed.

Formula: A·t·2.5 kg (`take_off`; EN 572-1); crates are filled heaviest pane first, into the first crate with room.
The limit for one person is the studio's own: manual-handling rules differ by country, and local ones come first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from jobs.estimating.basis import House
from jobs.estimating.refusals import EstimateWarning, warn
from jobs.estimating.take_off import TakeOff
from studio.kit.rounding import decimal_string

LOCAL_CODES = (
    "Where glass can hurt someone, and in bathrooms and damp places, local codes come first and decide what may be "
    "fitted and how. Safety glazing, fixings and hanging hardware are chosen for the weight by somebody licensed to."
)


@dataclass(frozen=True, kw_only=True)
class Crate:
    """One crate: how many ordered panes of each line it holds, and what it weighs."""

    number: int
    panes: dict[int, int]
    glass_kg: Fraction
    gross_kg: Fraction


@dataclass(frozen=True, kw_only=True)
class Carrying:
    crates: tuple[Crate, ...]
    cautions: tuple[EstimateWarning, ...]


def carrying(sizes: Sequence[TakeOff], house: House) -> Carrying:
    """Pack the ordered panes into crates, heaviest first, first crate with room, and say what takes two."""
    room = house.crate_most_kg - house.crate_kg if house.crate_most_kg else None
    loads: list[dict[int, int]] = []
    glass: list[Fraction] = []
    for size in sorted(sizes, key=lambda size: (-size.pane_kg, size.line.number)):
        for _ in range(size.line.quantity):
            at = next((n for n, kg in enumerate(glass) if room is None or kg + size.pane_kg <= room), len(glass))
            if at == len(glass):
                loads.append({})
                glass.append(Fraction(0))
            loads[at][size.line.number] = loads[at].get(size.line.number, 0) + 1
            glass[at] += size.pane_kg
    crates = tuple(
        Crate(number=number, panes=dict(sorted(panes.items())), glass_kg=kg, gross_kg=kg + house.crate_kg)
        for number, (panes, kg) in enumerate(zip(loads, glass, strict=True), start=1)
    )
    return Carrying(crates=crates, cautions=tuple(_cautions(sizes, crates, house)))


def _cautions(sizes: Sequence[TakeOff], crates: Sequence[Crate], house: House) -> list[EstimateWarning]:
    limit = house.two_person_kg
    found: list[EstimateWarning] = []
    if not limit:
        return found
    found += [
        warn("pane for two people", size.line.name, line=size.line.number, kg=decimal_string(size.pane_kg, 1),
             limit=decimal_string(limit, 1))
        for size in sizes if size.pane_kg > limit
    ]
    heavy = [crate for crate in crates if crate.gross_kg > limit]
    if heavy and house.crate_most_kg:
        numbers = ", ".join(str(crate.number) for crate in heavy)
        heaviest = max(crate.gross_kg for crate in heavy)
        found.append(warn("crate for two people", numbers, kg=decimal_string(heaviest, 1)))
    return found
