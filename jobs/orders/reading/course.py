"""The course of a letter: its items as they are found, changed and counted, passage by passage. Pure."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from math import ceil

from jobs.orders.reading.changes import count_beside, inherit, live, replace_by, take_back
from jobs.orders.reading.counts import MOST_PANES
from jobs.orders.reading.holes import HoleSaid, cuts_the_outline
from jobs.orders.reading.items import Item, item_of, words_of
from jobs.orders.reading.measures import at
from jobs.orders.reading.outcome import Mark
from jobs.orders.reading.passages import Passage
from jobs.orders.reading.sense import Deduction
from jobs.orders.reading.settling import Surroundings
from jobs.orders.reading.unheard import (
    corrects_what_it_follows,
    decides,
    unheard_beside,
)
from jobs.orders.reading.vocabulary import CANCEL, FRAMES, LIKE, MAYBE, NOT, OF_SIZES, OPENINGS, OVAL, PAST

LONGEST_WRITTEN = 240
_OLD = {"broke", "broken", "old", "existing", "previous", "cracked", "smashed", "original", "last", "damaged"}


@dataclass
class Heading:
    """What a row with a colon says of the rows under it."""

    words: set[str] = field(default_factory=set)
    text: str = ""
    deduction: Deduction | None = None

    @property
    def doubt(self) -> str:
        if self.words & (PAST | MAYBE | LIKE | CANCEL | NOT) - {"please", "or"}:
            return f"It stands under “{self.text}”: is it ordered?"
        return ""


@dataclass
class Course:
    """What was read so far. last_row: of the last size. before: the words of the passage before this one."""

    entries: list[Item | Mark] = field(default_factory=list)
    passed_over: list[str] = field(default_factory=list)
    heading: Heading = field(default_factory=Heading)
    #: a size above that the sentence names in order to change it
    named: Item | None = None
    before: set[str] = field(default_factory=set)
    #: pieces counted without a size: “I need three mirrors.”
    pieces: int = 0
    #: the words that say so
    pieces_said: str = ""
    last_row: int = -9
    #: the row, the count and the words of a count ahead of a size: “Suites: 4”
    ahead: tuple[int, int, str] = (-9, 0, "")
    #: sizes that words settle on: “we have agreed on 850 x 850”
    decided: list[Item] = field(default_factory=list)
    #: “Two sets.” of all that is in the letter, and the words that say so
    sets: int = 0
    sets_said: str = ""
    #: things counted without a size: “Two closet doors.”
    things: int = 0
    #: what is said ahead of the sizes that leaves open whether they are ordered
    left_open: str = ""
    #: the row of a size that ends in “no wait”
    corrected_in: int = -9
    #: “three of each:” above the sizes
    of_each: int = 0
    #: the rows are of a letter that is passed on with an answer of its own
    answered: bool = False

    @property
    def items(self) -> list[Item]:
        return [entry for entry in self.entries if isinstance(entry, Item)]

    def near(self, row: int) -> bool:
        """Say whether a row is that of the last size that may be ordered, or the one under it."""
        return any(row - item.row <= 1 for item in live(self.items)[-1:])

    def take(self, entry: Item | Mark, row: int) -> None:
        """Add a result in the letter's order."""
        if len(entry.written) > LONGEST_WRITTEN:
            entry = Mark(written=entry.written, why="This passage is too long: put each size on a row of its own.")
        if self.answered and isinstance(entry, Item):
            entry.doubts.append("It stands in the letter that this one answers: is it ordered?")
        self.entries.append(entry)
        self.last_row = row

    def sized(
        self, passage: Passage, at_row: int, around: Surroundings, as_written: str = ""
    ) -> list[tuple[Item, Passage]]:
        """Read a passage with a size: an item of its own, or a change of one above."""
        item = item_of(passage, around, at_row)
        if as_written:
            item.written = as_written
        if self.heading.text:
            self._under_heading(item)
        near = self.near(at_row)
        if item.sense.of == "hole" and self.items:
            self.items[-1].tails.append(item.written)
            return []
        self.take(item, at_row)
        if item not in self.items:
            return []
        if item.sense.negated or item.sense.cancelled:
            before = live(self.items)
            take_back(item, self.items)
            self._instead(item, before)
        elif item.sense.changed:
            before = live(self.items)
            self._change(item, near, passage)
            # nothing that it could change: its words are still to be heard
            item.sense.changed = len(live(self.items)) < len(before) or any(other.gone for other in self.items)
        self._counted_ahead(item, at_row)
        self._of_the_past(item, passage)
        self._spare_of_each(item, passage)
        self._in_two_units(item)
        self._decided(item, passage)
        if item.sense.points:
            self.left_open = passage.text[:80]
        if self.left_open:
            item.doubts.append(f"It says before “{self.left_open}”: is it ordered?")
        if self.corrected_in == at_row:
            item.doubts.append("The words before it correct themselves: is this the size?")
        self.corrected_in = at_row if corrects_what_it_follows(passage.text) else -9
        if unheard := unheard_beside(item, passage.text):
            if "each" in unheard and self.things > 1 and not item.counted:  # “Two closet doors. Mirror for each is …”
                item.quantities = [self.things, *item.quantities]
            item.doubts.append(f"It says “{unheard}”: is the line right?")
        return [(item, passage)]

    def hole(self, said: HoleSaid, beside: list[Item], *, noted: bool = False) -> None:
        """Draw a hole in the one pane it is of, where its size and place are certain; else mark it. The words are kept.

        beside: the size in whose row it stands, if any. noted: that one's note holds the words already.
        """
        here = live(self.items)
        if cuts_the_outline(said.text):
            for item in beside or here:
                item.doubts.append(f"It says “{said.text[:80]}”: is it a rectangle with that cut out of it?")
        for item in beside or (here if len(here) == 1 else []):
            if said.drawn:
                item.note = ", ".join(part for part in item.note.split(", ") if part not in said.text)
                item.holes.append(said.drawn)
                item.says(f"Drawn in it: “{said.text}”.")
                return
            if not noted:
                item.tails.append(said.text)
        why = ("A hole or cut-out, not drawn: type its size and its place from the left and the lower edge in the "
               "line’s own field.")
        self.entries.append(Mark(written=said.text[:LONGEST_WRITTEN], why=why, hole=True))

    def _change(self, item: Item, near: bool, passage: Passage) -> None:
        """Put a size in the place of one above; “the 600 x 900 should be 610 x 900” names which."""
        same = [other for other in live(self.items) if other is not item and set(other.sides_mm) == set(item.sides_mm)
                and other.sides_mm == item.sides_mm]
        if self.named is not None and self.named.row != item.row and not same:
            self.named.gone = f"Replaced: “{item.written}”."
            inherit(item, self.named)
            self.named = None
        elif len(same) == 1 and same[0].row != item.row:
            self.named, item.gone = same[0], "It names the size above."
            if count := count_beside(item, passage):  # “actually three of the 400 x 500”
                same[0].quantities, same[0].counted = [count], True
                same[0].says(f"As “{item.written}” says.")
        else:
            replace_by(item, self.items, near, words_of(passage.tokens))

    def _counted_ahead(self, item: Item, at_row: int) -> None:
        """Ask whether the count straight ahead of a size is its own: “Suites: 4” above “600 x 900 mm”."""
        row, count, said = self.ahead
        if count > 1 and not item.counted and 0 <= at_row - row <= 1 and not item.gone:
            item.quantities = list(dict.fromkeys([count, *item.quantities]))
            item.doubts.append(f"Before it says “{said}”: how many?")

    def _of_the_past(self, item: Item, passage: Passage) -> None:
        """Ask of “It is 600 x 900” where the sentence before speaks of old glass."""
        if at(passage.tokens, 0) in ("it", "they", "that", "its", "it's", "which", "was") and self.before & _OLD:
            item.doubts.append("It may speak of earlier glass: is it ordered?")

    def _decided(self, item: Item, passage: Passage) -> None:
        """Ask of the sizes that were weighed before “we have agreed on 850 x 850”, which alone is settled."""
        if not decides(passage.text):
            return
        self.decided.append(item)
        for other in live(self.items):
            if not any(other is one for one in self.decided):
                other.doubts.append(f"Later it says “{passage.text[:80]}”: is this one still ordered?")

    def _spare_of_each(self, item: Item, passage: Passage) -> None:
        """Ask of the rows above too of “… x 2, each pair with one spare”."""
        words = words_of(passage.tokens)
        if not item.spare or not (words & {"both", "all"} or {"each", "pair"} <= words or {"each", "size"} <= words):
            return
        for other in live(self.items):
            if other.row != item.row:
                other.quantities = list(dict.fromkeys([*other.quantities, other.quantities[0] + item.spare]))
                other.doubts.append(f"Later it says “{passage.text}”: is a spare of this one meant?")

    def _in_two_units(self, item: Item) -> None:
        """Ask of “24" x 36" (610 x 914 mm)” once: it is one size, written twice."""
        for other in live(self.items)[-2:-1]:
            pairs = list(zip(other.sides_mm, item.sides_mm, strict=False))
            apart = other.row != item.row or len(other.sides_mm) != len(item.sides_mm) or item.counted
            if apart or not pairs or any(abs(one - two) > 3 for one, two in pairs) or (
                    item.options[0].text.rsplit(" ", 1)[-1] == other.options[0].text.rsplit(" ", 1)[-1]):
                continue
            other.options = [*other.options, *item.options]
            other.doubts.append("It is written in two units: which is the exact size?")
            item.gone = "The size before it, in another unit."

    def _instead(self, item: Item, before: list[Item]) -> None:
        """Give the size that stands for one taken back the count of that one."""
        gone = [other for other in before if other.gone and other is not item]
        fresh = live(self.items)
        if len(gone) == 1 and fresh and fresh[-1] is not gone[0] and fresh[-1].row == item.row:
            inherit(fresh[-1], gone[0])

    def _under_heading(self, item: Item) -> None:
        if self.heading.doubt:
            item.doubts.append(self.heading.doubt)
        item.deduction = item.deduction or self.heading.deduction
        if self.heading.words & OPENINGS and not item.sense.of:
            item.sense.of = item.sense.noun = "opening"
        if self.heading.words & FRAMES and self.heading.words & OF_SIZES and not item.sense.of:
            item.sense.of = item.sense.noun = "frame"
        if self.heading.words & OVAL and item.shape.name == "rectangle":
            item.shape = replace(item.shape, name="ellipse")

    def counted_apart(self) -> None:
        """Settle “I need three mirrors.” said apart from the sizes: it is their sum, or how many of the one."""
        here = live(self.items)
        if self.of_each:
            uncounted = [item for item in here if not item.counted]
            for item in uncounted:
                item.quantities, item.counted = [self.of_each], True
                if len(uncounted) < len(here):
                    item.doubts.append(f"The letter speaks of {self.of_each} of each: how many of this size?")
        self._several_alone(here)
        self._as_their_openings(here)
        for item in here if self.sets else ():
            times = [count * self.sets for count in item.quantities if count * self.sets <= MOST_PANES]
            item.quantities = list(dict.fromkeys([*times, *item.quantities]))
            item.doubts.append(f"It says “{self.sets_said}”: how many of this one?")
        if not self.pieces or not here or sum(item.quantities[0] for item in here) == self.pieces:
            return
        if all(item.counted for item in here) and not any(item.doubts for item in here):
            come_to = sum(item.quantities[0] for item in here)
            why = f"The sizes come to {come_to}, not to {self.pieces}: what differs?"
            self.entries.append(Mark(written=self.pieces_said, why=why))
            return
        uncounted = [item for item in here if not item.counted]
        if len(here) == 1 and uncounted:
            item = here[0]
            item.quantities = [self.pieces, 1]
            item.doubts.append(f"The letter speaks of {self.pieces}: how many of this size?")
        else:
            left = self.pieces - sum(item.quantities[0] for item in here)
            for item in uncounted or here:
                item.doubts.append(f"The letter speaks of {self.pieces} in all: how many of this size?")
                more = item.quantities[0] + left
                item.quantities += [more] if 1 <= more <= MOST_PANES and more not in item.quantities else []

    def _as_their_openings(self, here: list[Item]) -> None:
        """Ask how many of a glass that goes into something counted: “2 frames 620 x 920, glass 600 x 900”."""
        for item, ahead in ((item, other) for item in here for other in self.items):
            goes_in = ahead.sense.of in ("opening", "frame", "thing") and 0 <= item.row - ahead.row <= 1
            alone = not item.sense.of or item.row == ahead.row
            if goes_in and alone and not item.counted and ahead.counted and max(ahead.quantities) > 1 and (
                    self.items.index(ahead) < self.items.index(item)):
                item.quantities = list(dict.fromkeys([*ahead.quantities, *item.quantities]))
                item.doubts.append(f"Before it says “{ahead.written[:80]}”: how many?")

    def _several_alone(self, here: list[Item]) -> None:
        """Ask how many of a size alone that is said of several: “in 300 x 300 tiles”; a list of sizes is several."""
        for item in here:
            near = [other for other in self.items if other is not item and abs(other.row - item.row) <= 2
                    and other.sense.of != "thing"]
            if item.plural and not (item.counted or item.doubts or near or self.pieces or self.of_each):
                filled = ceil(item.fills_mm2 / (item.sides_mm[0] * item.sides_mm[-1])) if item.sides_mm else 0
                item.quantities = [filled, 1] if 1 < filled <= MOST_PANES else [1, 2, 3, 4]
                item.doubts.append(f"It says “{item.plural}” and not how many: how many?")
