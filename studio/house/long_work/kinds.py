"""What can be asked for as long work: a row a kind, registered by the room that knows how to do it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from studio.house.models import Person
from studio.kit.roles import May

Inputs = dict[str, Any]


class Course(Protocol):
    """What a piece of work is given while it is done. asked_by: for whom."""

    asked_by: Person

    @property
    def folder(self) -> Path:
        """Return an empty folder of its own, thrown away after."""

    def at(self, done: int, of: int, what: str) -> None:
        """Tell how far the work is: so many parts done of all, and what is begun. Call it often.

        Raises what ends the work, where it was cancelled or is another worker's now: let it pass.
        """


@dataclass(frozen=True, kw_only=True)
class Came:
    """What came of a piece of work.

    said: in one sentence. lines: what was found, to be read on its page. file: in the work's folder, offered under
    `name` as `media_type`. also: what it changes in the studio, written in the transaction that marks it done.
    """

    said: str
    lines: tuple[str, ...] = ()
    file: Path | None = None
    name: str = ""
    media_type: str = "application/octet-stream"
    also: Callable[[], None] | None = None


@dataclass(frozen=True, kw_only=True)
class Kind:
    """A kind of long work.

    title: what it is called on pages, given its inputs. needs: what somebody must be allowed to ask for it, see it and
    have what came of it. button, lead: how it is asked for on the page of work going on, and what it is for, in a
    sentence; "" where it is asked for elsewhere.
    """

    name: str
    title: Callable[[Inputs], str]
    needs: May
    do: Callable[[Course, Inputs], Came]
    button: str = ""
    lead: str = ""


_kinds: dict[str, Kind] = {}


def register(*kinds: Kind) -> None:
    for kind in kinds:
        _kinds[kind.name] = kind


def kind_of(name: str) -> Kind | None:
    return _kinds.get(name)


def kinds_for(person: Person) -> list[Kind]:
    """Return the kinds that somebody may ask for and see."""
    return [kind for kind in _kinds.values() if person.may(kind.needs)]
