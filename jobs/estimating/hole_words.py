"""Holes and sockets as people write them: “hole 10 mm at 50 x 60”, “socket 80 x 80 at 300 x 400”. Pure: no Django."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Any

from jobs.estimating.basis import HoleFacts
from studio.kit.errors import DaybookError
from studio.kit.rounding import decimal_string
from studio.kit.units import parse_size

MOST_HOLES = 20
_WORDS = re.compile(r"(hole|socket)\s+(\S[^;]*?)\s+at\s+(\S.*)")


class HoleNotUnderstood(DaybookError):
    """What was typed is no hole or socket with a place."""


def read_holes(text: str, default_unit: str = "mm") -> tuple[HoleFacts, ...]:
    """Read one hole or socket a line; places are from the left and the lower edge to the middle, seen from the front.

    Raises HoleNotUnderstood or NotUnderstood.
    """
    found = []
    for written in filter(None, (part.strip() for part in re.split(r"[\n;]", text))):
        words = _WORDS.fullmatch(written.lower())
        if words is None:
            raise HoleNotUnderstood(
                f"“{written}” was not understood: write for instance “hole 10 mm at 50 x 60 mm”, or "
                "“socket 80 x 80 mm at 300 x 400 mm”."
            )
        size, place = parse_size(words[2], default_unit), parse_size(words[3], default_unit)
        if place.single:
            raise HoleNotUnderstood(
                f"“{written}”: give its place from the left and from the lower edge, “at 50 x 60 mm”."
            )
        if words[1] == "socket" and size.single:
            raise HoleNotUnderstood(f"“{written}”: a socket has a width and a height.")
        found.append(HoleFacts(
            kind="hole" if words[1] == "hole" else "socket", width_mm=size.width_mm, height_mm=size.height_mm,
            from_left_mm=place.width_mm, from_bottom_mm=place.height_mm,
        ))
    if len(found) > MOST_HOLES:
        raise HoleNotUnderstood(f"At most {MOST_HOLES} holes a pane.")
    return tuple(found)


_NAMES = ("width_mm", "height_mm", "from_left_mm", "from_bottom_mm")


def to_saved(holes: tuple[HoleFacts, ...]) -> list[dict[str, str]]:
    """Return holes as they are saved: exact lengths as decimal strings, in mm."""
    return [{"kind": hole.kind, **{name: decimal_string(getattr(hole, name)) for name in _NAMES}} for hole in holes]


def from_saved(saved: list[dict[str, Any]]) -> tuple[HoleFacts, ...]:
    return tuple(
        HoleFacts(kind=hole["kind"], **{name: Fraction(hole[name]) for name in _NAMES}) for hole in saved
    )
