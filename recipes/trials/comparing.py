"""Compare trials and versions by their values: what differs, what differs in one thing only, and the scores. Pure."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from recipes.facts import RecipeFacts, Shelf, StepFacts
from recipes.trials.changing import PART_VALUES, STEP_VALUES
from recipes.value_words import VALUES, value_words
from studio.kit.units import show_size

DONE = "done"


#: names a step by its name and which of its like
StepKey = tuple[str, int]
#: names a value within its step: a part (0: the step itself), and what
Within = tuple[int, str]
Value = Fraction | str | bool | int | None
#: what belongs to no step: film, pane and glass
WHOLE: StepKey = ("", 0)


class Key(NamedTuple):
    """Names one value of a recipe: a step by its name and which of its like, a part (0: the step itself), what."""

    step: str
    nth: int
    part: int
    what: str

    @property
    def of_step(self) -> StepKey:
        return self.step, self.nth

    @property
    def within(self) -> Within:
        return self.part, self.what


def _mark(*names: object) -> int:
    """Return a whole number that scatters well, as the hash of a tuple of small numbers does not: sums of those
    meet by design (twice the strength and half the dwell), and a pair would be missed.
    """
    return hash("|".join(map(str, names)))


class StepValues:
    """A step's values, each with its mark, and the sum of the marks."""

    __slots__ = ("mark", "marks", "values")

    def __init__(self, values: Mapping[Within, Value]) -> None:
        self.values = values
        self.marks = {within: _mark(*within, hash(value)) for within, value in values.items()}
        self.mark = sum(self.marks.values())


NO_VALUES = StepValues({})


@dataclass(frozen=True, kw_only=True)
class Compared:
    """A trial or a version as it is compared: its recipe, pane and glass, its score where it has one.

    steps: its values, step by step; steps that are alike in several trials share them.
    """

    name: str
    address: str
    recipe: RecipeFacts
    width_mm: Fraction | None = None
    height_mm: Fraction | None = None
    glass: str = ""
    score: int | None = None
    number: int = 0
    steps: Mapping[StepKey, StepValues] = field(default_factory=dict, compare=False)

    def has(self, key: Key) -> bool:
        return key.within in self.steps.get(key.of_step, NO_VALUES).values

    def value(self, key: Key) -> Value:
        return self.steps.get(key.of_step, NO_VALUES).values.get(key.within)

    def does(self, step: StepKey) -> bool:
        """Say whether a step is done, not left out."""
        return step in self.steps


class SharedValues:
    """Values step by step, each different step read once: thousands of trials share most of theirs."""

    def __init__(self) -> None:
        self._steps: dict[StepFacts, StepValues] = {}
        self._wholes: dict[tuple[tuple[Within, Value], ...], StepValues] = {}

    def add_to(self, compared: Compared) -> Compared:
        """Return a trial or version with its values. A step that is left out has none."""
        whole: dict[Within, Value] = {(0, "film_nm"): compared.recipe.film_nm}
        if compared.width_mm is not None and compared.height_mm is not None:
            whole[0, "pane"] = show_size(compared.width_mm, compared.height_mm)
            whole[0, "glass"] = compared.glass
        steps = {WHOLE: self._wholes.setdefault(tuple(whole.items()), StepValues(whole))}
        seen: dict[str, int] = defaultdict(int)
        for step in compared.recipe.steps:
            label = step.name or step.kind
            seen[label] += 1
            steps[label, seen[label]] = self._of(step)
        return replace(compared, steps=steps)

    def _of(self, step: StepFacts) -> StepValues:
        step_values = self._steps.get(step)
        if step_values is None:
            step_values = self._steps[step] = StepValues(_of_step(step))
        return step_values


def _of_step(step: StepFacts) -> dict[Within, Value]:
    values: dict[Within, Value] = {(0, DONE): True}
    values |= {(0, name): getattr(step, name) for name in STEP_VALUES if name != "name"}
    for number, part in enumerate(step.parts, start=1):
        values |= {(number, name): getattr(part, name) for name in PART_VALUES}
    return values


def key_in_words(key: Key, several_parts: bool = False) -> str:
    """Return a key in words: “Sensitise: strength”."""
    if not key.step:
        return {"film_nm": "film", "pane": "pane", "glass": "glass"}[key.what]
    nth = f" ({key.nth})" if key.nth > 1 else ""
    what = "done or left out" if key.what == DONE else VALUES.get(key.what, (key.what, ""))[0]
    return f"{key.step}{nth}: {what}" + (f", part {key.part}" if several_parts and key.part else "")


def value_in_words(key: Key, compared: Compared, shelf: Shelf, preference: str = "metric") -> str:
    """Return a value in words; “left out” where its step is."""
    if not compared.does(key.of_step):
        return "left out"
    if key.what == DONE:
        return "done"
    if not compared.has(key):
        return "none"
    value = compared.value(key)
    return str(value) if key.what in ("pane", "glass") else value_words(key.what, value, shelf, preference)


@dataclass(frozen=True, kw_only=True)
class Row:
    """One value that differs: its name, and what it is in each."""

    name: str
    values: tuple[str, ...]


def differing(compared: Sequence[Compared], shelf: Shelf, preference: str = "metric") -> list[Row]:
    """Return the values that differ, in the order of the steps; what is alike is left out."""
    keys = list(dict.fromkeys(
        Key(*step, *within)
        for entry in compared for step, step_values in entry.steps.items() for within in step_values.values
    ))
    rows = []
    for key in keys:
        present = [entry for entry in compared if entry.does(key.of_step) and (key.step or entry.has(key))]
        if key.what == DONE:
            differs = len(present) < len(compared)
        else:
            differs = len({entry.value(key) for entry in present}) > 1
        if differs:
            values = tuple(value_in_words(key, entry, shelf, preference) for entry in compared)
            rows.append(Row(name=key_in_words(key, key.part > 1), values=values))
    return rows


@dataclass(frozen=True, kw_only=True)
class Pair:
    """Two that differ in one value alone."""

    key: Key
    before: Compared
    after: Compared

    @property
    def gain(self) -> int | None:
        """Return how much the score rose, where both have one."""
        if self.before.score is None or self.after.score is None:
            return None
        return self.after.score - self.before.score


def _sort_key(value: Value) -> tuple[int, Fraction, str]:
    if value is None:
        return -1, Fraction(0), ""
    if isinstance(value, (Fraction, int)):
        return 0, Fraction(int(value) if isinstance(value, bool) else value), ""
    return 1, Fraction(0), str(value)


def one_change_pairs(compared: Sequence[Compared]) -> dict[Key, list[Pair]]:
    """Return, for each value, the pairs that differ in it alone, the lower value first, the newest pairs first.

    Trials are grouped by everything but one value, through one sum of marks each: so it grows with trials × values.
    """
    weights = {step: _mark(*step) for step in dict.fromkeys(step for entry in compared for step in entry.steps)}
    sums = [sum(weights[step] * step_values.mark for step, step_values in entry.steps.items()) for entry in compared]
    found: dict[Key, list[Pair]] = {}
    for key in _varying(compared):
        groups = _alike_otherwise(key, compared, sums, weights[key.of_step])
        pairs = [
            pair for group in groups if len(group) > 1
            for pair in _pairs(key, group) if _alike_but(key, pair.before, pair.after)
        ]
        if pairs:
            found[key] = sorted(pairs, key=lambda pair: -max(pair.before.number, pair.after.number))
    return found


def _alike_otherwise(key: Key, compared: Sequence[Compared], sums: Sequence[int], weight: int) -> list[list[Compared]]:
    """Return the trials in groups that are alike, as their marks say, in all but one value.

    sums: each trial's marks, those of a step by its weight: the same values at another step count otherwise.
    Where the value is whether a step is done, the group holds those that leave it out as well.
    """
    groups: dict[int, list[Compared]] = defaultdict(list)
    step, within = key.of_step, key.within
    for entry, whole in zip(compared, sums, strict=True):
        step_values = entry.steps.get(step)
        if key.what == DONE:
            groups[whole - weight * (step_values or NO_VALUES).mark].append(entry)
        elif step_values is not None and within in step_values.marks:
            groups[whole - weight * step_values.marks[within]].append(entry)
    return list(groups.values())


def _varying(compared: Sequence[Compared]) -> list[Key]:
    """Return the values that are not alike everywhere; of each step, looking once at each way it was done."""
    ways: dict[StepKey, dict[StepValues, None]] = defaultdict(dict)
    times_done: dict[StepKey, int] = defaultdict(int)
    for entry in compared:
        for step, step_values in entry.steps.items():
            ways[step][step_values] = None
            times_done[step] += 1
    varying = []
    for step, different in ways.items():
        for within in dict.fromkeys(within for step_values in different for within in step_values.values):
            key = Key(*step, *within)
            if key.what == DONE:
                varies = times_done[step] < len(compared)
            else:
                varies = len({step_values.values.get(within) for step_values in different}) > 1
            if varies:
                varying.append(key)
    return varying


def _alike_but(key: Key, entry: Compared, other: Compared) -> bool:
    """Say whether two differ in one value alone; for a step that is left out, in nothing but that step."""
    if key.what != DONE and entry.value(key) == other.value(key):
        return False
    for step in entry.steps.keys() | other.steps.keys():
        a, b = entry.steps.get(step, NO_VALUES), other.steps.get(step, NO_VALUES)
        if a is b or (key.what == DONE and step == key.of_step):
            continue
        but = key.within if step == key.of_step else None
        if {k: v for k, v in a.values.items() if k != but} != {k: v for k, v in b.values.items() if k != but}:
            return False
    return True


def _pairs(key: Key, group: Sequence[Compared]) -> list[Pair]:
    """Pair the newest of each value with the newest of the next one up."""
    newest: dict[Value, Compared] = {}
    for entry in sorted(group, key=lambda entry: (entry.score is not None, entry.number)):
        newest[entry.value(key)] = entry
    ordered = sorted(newest, key=_sort_key)
    return [Pair(key=key, before=newest[a], after=newest[b]) for a, b in pairwise(ordered)]


@dataclass(frozen=True, kw_only=True)
class Point:
    """A scored trial on a chart, in the chart's own units."""

    x: Fraction
    y: Fraction
    entry: Compared
    label: str


@dataclass(frozen=True, kw_only=True)
class Chart:
    """Score against one changed value: points, and the marks of both axes, for a drawing 100 wide and 50 high."""

    key: Key
    points: tuple[Point, ...]
    marks: tuple[tuple[Fraction, str], ...]
    line: tuple[tuple[Fraction, Fraction], ...]


WIDTH, HEIGHT, LEFT, TOP, RIGHT, BOTTOM = 100, 50, 8, 4, 4, 9
BEST = 10
MOST_POINTS = 200


def score_chart(key: Key, compared: Sequence[Compared], shelf: Shelf, preference: str = "metric") -> Chart | None:
    """Return the chart of score against a value, or None with fewer than two values scored.

    Figures stand in proportion; words stand side by side. The line joins the middle score of each value; of very
    many trials the newest stand as points.
    """
    scored = [entry for entry in compared if entry.score is not None and (entry.has(key) or key.what == DONE)]
    example = {entry.value(key): entry for entry in scored}
    values = sorted(example, key=_sort_key)
    if len(values) < 2:
        return None
    figures = all(isinstance(value, (Fraction, int)) and not isinstance(value, bool) for value in values)
    width = WIDTH - LEFT - RIGHT
    at = {value: LEFT + 10 + _place(value, values, figures) * (width - 20) for value in values}
    labels = {value: value_in_words(key, entry, shelf, preference) for value, entry in example.items()}
    scores: dict[Value, list[int]] = defaultdict(list)
    for entry in scored:
        scores[entry.value(key)].append(entry.score or 0)
    return Chart(
        key=key,
        points=tuple(
            Point(x=at[entry.value(key)], y=_height(Fraction(entry.score or 0)), entry=entry,
                  label=labels[entry.value(key)])
            for entry in sorted(scored, key=lambda entry: -entry.number)[:MOST_POINTS]
        ),
        marks=tuple((at[value], labels[value]) for value in values),
        line=tuple((at[value], _height(Fraction(sum(scores[value]), len(scores[value])))) for value in values),
    )


def _height(score: Fraction) -> Fraction:
    return TOP + (HEIGHT - TOP - BOTTOM) * (1 - score / BEST)


def _place(value: Value, values: Sequence[Value], figures: bool) -> Fraction:
    """Return where a value stands between 0 and 1."""
    if not figures:
        return Fraction(values.index(value), max(len(values) - 1, 1))
    numbers = [Fraction(number) for number in values if isinstance(number, (Fraction, int))]
    low, high = min(numbers), max(numbers)
    return (Fraction(value) - low) / (high - low)  # type: ignore[arg-type]
