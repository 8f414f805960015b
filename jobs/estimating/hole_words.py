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
_WORDS = re.compile(r"(?:(hole|socket)\s+)?(\S[^;]*?)(?:\s+(hole|socket))?\s+(?:at|in)\s+(\S.*)")


class HoleNotUnderstood(DaybookError):
    """What was typed is no hole or socket with a place."""


_CENTRE = re.compile(r"(?:the\s)?(?:dead\s)?(?:cent(?:re|er)|middle)(?:\sof\s(?:the\s)?(?:pane|mirror|glass))?\W*")


def read_holes(
    text: str, default_unit: str = "mm", pane: tuple[Fraction, Fraction] | None = None,
) -> tuple[HoleFacts, ...]:
    """Read one hole or socket a line; places are from the left and the lower edge to the middle, seen from the front.

    pane: width and height in mm of the pane that it is in, without which nothing is read as “at centre”.
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
        size, kind = parse_size(words[2], default_unit), words[1] or words[3] or "hole"
        place = _place(written, words[4], default_unit, pane)
        if place is None:
            raise HoleNotUnderstood(
                f"“{written}”: give its place from the left and from the lower edge, “at 50 x 60 mm”."
            )
        if kind == "socket" and size.single:
            raise HoleNotUnderstood(f"“{written}”: a socket has a width and a height.")
        found.append(HoleFacts(
            kind="hole" if kind == "hole" else "socket", width_mm=size.width_mm, height_mm=size.height_mm,
            from_left_mm=place[0], from_bottom_mm=place[1],
        ))
    if len(found) > MOST_HOLES:
        raise HoleNotUnderstood(f"At most {MOST_HOLES} holes a pane.")
    return tuple(found)


def _place(
    written: str, place: str, default_unit: str, pane: tuple[Fraction, Fraction] | None
) -> tuple[Fraction, Fraction] | None:
    """Return how far from the left and the lower edge a hole is in mm; None where only one of both is said."""
    if _CENTRE.fullmatch(place):
        if pane is None:
            raise HoleNotUnderstood(f"“{written}”: its pane has no size yet; give its place, “at 50 x 60 mm”.")
        return pane[0] / 2, pane[1] / 2
    read = parse_size(place, default_unit)
    return None if read.single else (read.width_mm, read.height_mm)


_NAMES = ("width_mm", "height_mm", "from_left_mm", "from_bottom_mm")


def to_saved(holes: tuple[HoleFacts, ...]) -> list[dict[str, str]]:
    """Return holes as they are saved: exact lengths as decimal strings, in mm."""
    return [{"kind": hole.kind, **{name: decimal_string(getattr(hole, name)) for name in _NAMES}} for hole in holes]


def from_saved(saved: list[dict[str, Any]]) -> tuple[HoleFacts, ...]:
    return tuple(
        HoleFacts(kind=hole["kind"], **{name: Fraction(hole[name]) for name in _NAMES}) for hole in saved
    )
