"""Why something was found: the words around what matched, with what matched marked. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

#: so many letters are shown on either side of the first match
AROUND = 48

#: a piece of a text, and whether it is marked
Piece = tuple[str, bool]


@dataclass(frozen=True, kw_only=True)
class Why:
    """Where it matched, in a word or two, and the text around with its matches marked."""

    where: str
    pieces: tuple[Piece, ...]

    @property
    def text(self) -> str:
        return "".join(text for text, _ in self.pieces)


def marked(text: str, words: Sequence[str]) -> tuple[Piece, ...]:
    """Return a text in pieces, each match marked; words: case-folded."""
    spans = _spans(text, words)
    pieces: list[Piece] = []
    at = 0
    for left, right in spans:
        if left > at:
            pieces.append((text[at:left], False))
        pieces.append((text[left:right], True))
        at = right
    if at < len(text):
        pieces.append((text[at:], False))
    return tuple(pieces)


def why(where: str, text: str, words: Sequence[str]) -> Why:
    """Return why a text matched: itself, or, of a long one, what stands around the first match."""
    text = " ".join(text.split())
    spans = _spans(text, words)
    first = spans[0] if spans else (0, 0)
    left, right = max(first[0] - AROUND, 0), min(first[1] + AROUND, len(text))
    left = _at_a_word(text, left) if left else 0
    right = text.rfind(" ", first[1], right) if right < len(text) and " " in text[first[1]:right] else right
    shown = f"{'… ' if left else ''}{text[left:right]}{' …' if right < len(text) else ''}"
    return Why(where=where, pieces=marked(shown, words))


def whys(fields: Sequence[tuple[str, str]], words: Sequence[str], *, most: int = 3) -> tuple[Why, ...]:
    """Return why a row matched: the fewest of its fields that hold every word, in the order given.

    fields: what each is called, and its text.
    """
    left, found = set(words), list[Why]()
    for where, text in fields:
        here = {word for word in left if word in text.casefold()}
        if here and len(found) < most:
            found.append(why(where, text, words))
            left -= here
    return tuple(found)


def _at_a_word(text: str, at: int) -> int:
    """Return where the next word begins, so that no word is cut at its beginning."""
    space = text.find(" ", at)
    return at if space < 0 or space > at + AROUND // 2 else space + 1


def _spans(text: str, words: Sequence[str]) -> list[tuple[int, int]]:
    """Return where words occur, from left to right, overlapping ones as one.

    Folding may lengthen a letter (ß is ss): each folded letter knows the letter that it came from.
    """
    folded, origin = [], []
    for at, letter in enumerate(text):
        for part in letter.casefold():
            folded.append(part)
            origin.append(at)
    line, found = "".join(folded), list[tuple[int, int]]()
    for word in filter(None, words):
        start = line.find(word)
        while start >= 0:
            found.append((origin[start], origin[start + len(word) - 1] + 1))
            start = line.find(word, start + len(word))
    joined: list[tuple[int, int]] = []
    for left, right in sorted(found):
        if joined and left <= joined[-1][1]:
            joined[-1] = joined[-1][0], max(joined[-1][1], right)
        else:
            joined.append((left, right))
    return joined
