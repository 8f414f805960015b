"""The letters beside this module, and how a reading of one is judged.

A letter of a file: “## its name”, with “[in]” where the studio measures in inches; its text; “==”; what a person would
order from it, one expectation a row:

    2 @ 600 x 900 mm; kept: low iron     a definite line: count, size, shape (Ø, oval), and words that must be kept
    1 @ 612 x 912 mm; opening; joint 3 mm
    ? 60 x 90 -> 1 @ 60 x 90 cm          to be asked, these words in the question, this reading among its choices
    ! wall is 3.2                        to be marked

`python -m tests.jobs.orders.reading.letters.judging [folder]` prints the hit rate by kind, and what was missed with `-v`.
"""

from __future__ import annotations

import re
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

from jobs.orders.reading import Line, Reading, read_letter
from studio.kit.units import amount_in, parse_size

HERE = Path(__file__).parent
FOLDERS = tuple(sorted(folder.name for folder in HERE.iterdir() if folder.is_dir() and folder.name != "__pycache__"))


@dataclass(frozen=True)
class Ordered:
    """A line as a person would enter it; sides in mm, one for a circle."""

    quantity: int
    shape: str
    sides_mm: tuple[Fraction, ...]
    opening: bool = False
    joint_mm: Fraction = Fraction(0)


@dataclass(frozen=True)
class Asked:
    words: str
    choice: Ordered | None


@dataclass
class Letter:
    folder: str
    kind: str
    name: str
    text: str
    unit: str
    lines: list[Ordered] = field(default_factory=list)
    kept: list[str] = field(default_factory=list)
    asked: list[Asked] = field(default_factory=list)
    marked: list[str] = field(default_factory=list)

    @property
    def label(self) -> str:
        return f"{self.folder}/{self.kind}: {self.name}"


@dataclass
class Verdict:
    """What became of a letter's definite lines, and what is wrong with its reading, each a sentence."""

    right: int = 0
    offered: int = 0
    asked: int = 0
    wrong: list[str] = field(default_factory=list)


def letters(folder: str = "") -> Iterator[Letter]:
    for path in sorted(HERE.glob(f"{folder or '*'}/*.txt")):
        for part in re.split(r"(?m)^## ", path.read_text(encoding="utf-8"))[1:]:
            head, _, rest = part.partition("\n")
            text, _, expected = rest.partition("\n==\n") if "\n==\n" in rest else (rest.rstrip().removesuffix("=="), "", "")
            name, unit = (head.removesuffix("[in]").strip(), "in") if head.endswith("[in]") else (head.strip(), "mm")
            letter = Letter(path.parent.name, path.stem, name, text, unit)
            for row in filter(None, map(str.strip, expected.splitlines())):
                _expect(letter, row)
            yield letter


def _expect(letter: Letter, row: str) -> None:
    if row.startswith("?"):
        words, _, choice = row[1:].partition(" -> ")
        letter.asked.append(Asked(words.strip(), _ordered(choice) if choice else None))
    elif row.startswith("!"):
        letter.marked.append(row[1:].strip())
    else:
        line, _, kept = row.partition("; kept: ")
        letter.lines.append(_ordered(line))
        letter.kept += [word.strip() for word in kept.split(",") if word.strip()]


def _ordered(written: str) -> Ordered:
    line, *more = written.split(";")
    count, _, size = line.partition(" @ ")
    size, shape = size.strip(), "rectangle"
    for word, name in (("Ø ", "circle"), ("oval ", "ellipse"), ("other ", "other")):
        if size.startswith(word):
            size, shape = size.removeprefix(word), name
    joint = next((part.replace("joint", "").strip() for part in more if "joint" in part), "")
    return Ordered(int(count), shape, _sides(size), any("opening" in part for part in more),
                   amount_in(joint, "length") if joint else Fraction(0))


def _sides(size_text: str) -> tuple[Fraction, ...]:
    size = parse_size(size_text)
    return (size.width_mm,) if size.single else (size.width_mm, size.height_mm)


def as_ordered(line: Line) -> Ordered:
    return Ordered(line.quantity, line.shape, _sides(line.size_text), line.opening,
                   amount_in(line.joint_text, "length") if line.joint_text else Fraction(0))


def judge(letter: Letter, reading: Reading | None = None) -> Verdict:
    """Compare a reading with what a person would order.

    Wrong, ever: a line that nobody ordered; a definite line that is neither read nor asked nor marked; a question
    that a person would ask left out; words to be kept that no line, question or mark shows.
    """
    reading = read_letter(letter.text, letter.unit) if reading is None else reading
    verdict = Verdict()
    read, expected = Counter(map(as_ordered, reading.lines)), Counter(letter.lines)
    verdict.right = sum((read & expected).values())
    verdict.wrong += [f"nobody ordered {line.quantity} @ {tuple(map(str, line.sides_mm))} {line.shape}"
                      for line in (read - expected).elements()]
    missing = list((expected - read).elements())
    choices = Counter(
        as_ordered(choice.line) for question in reading.questions for choice in question.choices if choice.line)
    verdict.offered = sum(1 for line in missing if choices[line])
    unread = [result.written for result in reading.results if not isinstance(result, Line)]
    lost = [line for line in missing if not choices[line] and not any(_tells_of(line, words) for words in unread)]
    verdict.asked = len(missing) - len(lost)
    verdict.wrong += [f"{line.quantity} @ {tuple(map(str, line.sides_mm))} was lost" for line in lost]
    shown = [_bare(result.written + " " + getattr(result, "note", "")) for result in reading.results
             if not isinstance(result, Line)]
    for asked in letter.asked:
        if not any(_bare(asked.words) in words for words in shown):
            verdict.wrong.append(f"“{asked.words}” was neither asked nor marked")
        elif asked.choice is not None and not choices[asked.choice] and any(
                _bare(asked.words) in _bare(question.written) for question in reading.questions):
            verdict.wrong.append(f"“{asked.words}” was asked without the reading that is meant")
    verdict.wrong += [f"“{words}” was not marked" for words in letter.marked
                      if not any(_bare(words) in one for one in shown)]
    notes = " ".join([*shown, *(_bare(f"{line.note} {line.worked_out}") for line in reading.lines)])
    verdict.wrong += [f"“{words}” was dropped" for words in letter.kept if _bare(words) not in notes]
    return verdict


#: mm of the units that a side may be written in
_UNITS_MM = (Fraction(1), Fraction(10), Fraction(1000), Fraction(254, 10), Fraction(3048, 10))


def _tells_of(line: Ordered, written: str) -> bool:
    """Say whether the words of a question or mark hold a side of a line: a figure of it, or no figure but words."""
    figures = {Fraction(figure.replace(",", ".")) for figure in re.findall(r"\d+(?:[.,]\d+)?", written)}
    whole = {side // unit for side in line.sides_mm for unit in _UNITS_MM}
    exact = {side / unit for side in line.sides_mm for unit in _UNITS_MM}
    return not figures or bool(figures & (exact | {Fraction(part) for part in whole if part}))


def _bare(words: str) -> str:
    return re.sub(r"\s+", " ", words).casefold().strip()


@dataclass
class Rate:
    letters: int = 0
    definite: int = 0
    right: int = 0
    offered: int = 0
    asked: int = 0
    wrong: int = 0

    def add(self, letter: Letter, verdict: Verdict) -> None:
        self.letters += 1
        self.definite += len(letter.lines)
        self.right += verdict.right
        self.offered += verdict.offered
        self.asked += verdict.asked
        self.wrong += len(verdict.wrong)


def rates(folder: str = "") -> dict[str, Rate]:
    """Return the hit rate by kind, and of all under "all"."""
    by_kind: dict[str, Rate] = {}
    for letter in letters(folder):
        verdict = judge(letter)
        for kind in (letter.kind, "all"):
            by_kind.setdefault(kind, Rate()).add(letter, verdict)
    return {**{kind: by_kind[kind] for kind in sorted(by_kind) if kind != "all"}, "all": by_kind["all"]}


def table(folder: str = "") -> str:
    rows = [f"{'kind':14}{'letters':>8}{'definite':>9}{'right':>7}{'':>6}{'asked, the right one offered':>30}{'wrong':>7}"]
    for kind, rate in rates(folder).items():
        share = f"{rate.right * 100 // rate.definite}%" if rate.definite else ""
        rows.append(f"{kind:14}{rate.letters:>8}{rate.definite:>9}{rate.right:>7}{share:>6}"
                    f"{f'{rate.asked}, {rate.offered}':>30}{rate.wrong:>7}")
    return "\n".join(rows)


def _missed(folder: str) -> Iterator[str]:
    for letter in letters(folder):
        reading = read_letter(letter.text, letter.unit)
        verdict = judge(letter, reading)
        if verdict.wrong or verdict.right < len(letter.lines):
            yield f"--- {letter.label}: {'; '.join(verdict.wrong) or 'not read'}"
            yield from (f"    {result}" for result in reading.results)


if __name__ == "__main__":
    chosen = next((name for name in sys.argv[1:] if name in FOLDERS), "")
    if "-v" in sys.argv:
        sys.stdout.write("\n".join(_missed(chosen)) + "\n")
    sys.stdout.write(table(chosen) + "\n")
