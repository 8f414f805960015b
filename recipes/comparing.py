"""Compare trials and issues by their values: what differs, what differs in one thing only, and the scores. Pure."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import pairwise

from recipes.changing import PART_VALUES, STEP_VALUES
from recipes.facts import RecipeFacts, Shelf, StepFacts
from recipes.value_words import VALUES, value_words
from studio.units import show_size

DONE = "done"


@dataclass(frozen=True, order=True)
class Key:
    """Names one value of a recipe: a step by kind, name and which of its like, a part (0: the step itself), what."""

    step: str
    nth: int
    part: int
    what: str

    @property
    def of_step(self) -> tuple[str, int]:
        return self.step, self.nth


Value = Fraction | str | bool | int | None


@dataclass(frozen=True, kw_only=True)
class Tried:
    """A trial or an issue as it is compared: its recipe, pane and glass, its score where it has one."""

    name: str
    address: str
    recipe: RecipeFacts
    width_mm: Fraction | None = None
    height_mm: Fraction | None = None
    glass: str = ""
    score: int | None = None
    number: int = 0
    values: Mapping[Key, Value] = field(default_factory=dict, compare=False)


def values_of(tried: Tried) -> dict[Key, Value]:
    """Return every value that counts, by its key. A step that is left out has only that it is not there."""
    values: dict[Key, Value] = {Key("", 0, 0, "film_nm"): tried.recipe.film_nm}
    if tried.width_mm is not None and tried.height_mm is not None:
        values[Key("", 0, 0, "pane")] = show_size(tried.width_mm, tried.height_mm)
        values[Key("", 0, 0, "glass")] = tried.glass
    seen: dict[str, int] = defaultdict(int)
    for step in tried.recipe.steps:
        label = step.name or step.kind
        seen[label] += 1
        values |= _of_step(step, label, seen[label])
    return values


def _of_step(step: StepFacts, label: str, nth: int) -> dict[Key, Value]:
    values: dict[Key, Value] = {Key(label, nth, 0, DONE): True}
    values |= {Key(label, nth, 0, name): getattr(step, name) for name in STEP_VALUES if name != "name"}
    for number, part in enumerate(step.parts, start=1):
        values |= {Key(label, nth, number, name): getattr(part, name) for name in PART_VALUES}
    return values


def with_values(tried: Tried) -> Tried:
    """Return it with its values laid out."""
    return replace(tried, values=values_of(tried))


def told_key(key: Key, several_parts: bool = False) -> str:
    """Return a key in words: “Sensitise: strength”."""
    if not key.step:
        return {"film_nm": "film", "pane": "pane", "glass": "glass"}[key.what]
    nth = f" ({key.nth})" if key.nth > 1 else ""
    what = "done or left out" if key.what == DONE else VALUES.get(key.what, (key.what, ""))[0]
    return f"{key.step}{nth}: {what}" + (f", part {key.part}" if several_parts and key.part else "")


def told_value(key: Key, values: Mapping[Key, Value], shelf: Shelf, preference: str = "metric") -> str:
    """Return a value in words; “left out” where its step is."""
    if key.what == DONE:
        return "done" if values.get(key) else "left out"
    if key.step and Key(key.step, key.nth, 0, DONE) not in values:
        return "left out"
    if key not in values:
        return "none"
    return str(values[key]) if key.what in ("pane", "glass") else value_words(key.what, values[key], shelf, preference)


@dataclass(frozen=True, kw_only=True)
class Row:
    """One value that differs: its name, and how each of the compared has it."""

    name: str
    values: tuple[str, ...]


def differing(tried: Sequence[Tried], shelf: Shelf, preference: str = "metric") -> list[Row]:
    """Return the values in which the compared differ, in the order of the steps; what is alike is left out."""
    keys = list(dict.fromkeys(key for one in tried for key in one.values))
    rows = []
    for key in keys:
        if key.what == DONE and all(one.values.get(key) for one in tried):
            continue
        present = [one for one in tried if key in one.values or Key(key.step, key.nth, 0, DONE) in one.values]
        if key.what != DONE and len({one.values.get(key) for one in present}) < 2:
            continue
        told = tuple(told_value(key, one.values, shelf, preference) for one in tried)
        if len(set(told)) > 1:
            rows.append(Row(name=told_key(key, key.part > 1), values=told))
    return rows


@dataclass(frozen=True, kw_only=True)
class Pair:
    """Two that differ in one value alone."""

    key: Key
    before: Tried
    after: Tried

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


def one_change_pairs(tried: Sequence[Tried]) -> dict[Key, list[Pair]]:
    """Return, for each value, the pairs that differ in it alone, the lower value first, the newest pairs first.

    Trials are grouped by everything but one value, through one sum of hashes each: so it grows with trials × values.
    """
    keys = dict.fromkeys(key for one in tried for key in one.values)
    moving = [key for key in keys if key.what == DONE or len({one.values.get(key) for one in tried}) > 1]
    marks = [{key: hash((key, one.values[key])) for key in moving if key in one.values} for one in tried]
    sums = [sum(mark.values()) for mark in marks]
    steps: dict[tuple[str, int], list[Key]] = defaultdict(list)
    for key in moving:
        steps[key.of_step].append(key)
    found: dict[Key, list[Pair]] = {}
    for key in moving:
        groups: dict[int, list[Tried]] = defaultdict(list)
        for one, mark, whole in zip(tried, marks, sums, strict=True):
            if key.what == DONE:
                groups[whole - sum(mark.get(other, 0) for other in steps[key.of_step])].append(one)
            elif key in mark:
                groups[whole - mark[key]].append(one)
        pairs = [
            pair for group in groups.values() if len(group) > 1
            for pair in _pairs(key, group) if _alike_but(key, pair.before, pair.after)
        ]
        if pairs:
            found[key] = sorted(pairs, key=lambda pair: -max(pair.before.number, pair.after.number))
    return found


def _alike_but(key: Key, one: Tried, other: Tried) -> bool:
    """Say whether two differ in one value alone; for a step that is left out, in nothing but that step."""
    def rest(tried: Tried) -> dict[Key, Value]:
        return {
            k: v for k, v in tried.values.items() if k != key and (key.what != DONE or k.of_step != key.of_step)
        }

    return one.values.get(key) != other.values.get(key) and rest(one) == rest(other)


def _pairs(key: Key, group: Sequence[Tried]) -> list[Pair]:
    """Pair the newest of each value with the newest of the next one up."""
    newest: dict[Value, Tried] = {}
    for one in sorted(group, key=lambda one: (one.score is not None, one.number)):
        newest[one.values.get(key)] = one
    ordered = sorted(newest, key=_sort_key)
    return [Pair(key=key, before=newest[a], after=newest[b]) for a, b in pairwise(ordered)]


@dataclass(frozen=True, kw_only=True)
class Point:
    """A scored trial on a chart, in the chart's own units."""

    x: Fraction
    y: Fraction
    tried: Tried
    told: str


@dataclass(frozen=True, kw_only=True)
class Chart:
    """Score against one changed value: points, and the marks of both axes, for a drawing 100 wide and 50 high."""

    key: Key
    points: tuple[Point, ...]
    marks: tuple[tuple[Fraction, str], ...]

    @property
    def line(self) -> str:
        """Return the middle score at each value as the points of a line."""
        by_x: dict[Fraction, list[Fraction]] = defaultdict(list)
        for point in self.points:
            by_x[point.x].append(point.y)
        return " ".join(f"{float(x):.2f},{float(sum(ys, Fraction(0)) / len(ys)):.2f}" for x, ys in sorted(by_x.items()))


WIDTH, HEIGHT, LEFT, TOP, RIGHT, BOTTOM = 100, 50, 8, 4, 4, 9
BEST = 10


def score_chart(key: Key, tried: Sequence[Tried], shelf: Shelf, preference: str = "metric") -> Chart | None:
    """Return the chart of score against a value, or None with fewer than two values scored.

    Figures stand in proportion; words stand side by side.
    """
    scored = [one for one in tried if one.score is not None and (key in one.values or key.what == DONE)]
    values = sorted({one.values.get(key) for one in scored}, key=_sort_key)
    if len(values) < 2:
        return None
    figures = all(isinstance(value, (Fraction, int)) and not isinstance(value, bool) for value in values)
    places = {value: _place(value, values, figures) for value in values}
    width = WIDTH - LEFT - RIGHT
    at = {value: LEFT + Fraction(10) + places[value] * (width - 20) for value in values}
    height = HEIGHT - TOP - BOTTOM
    return Chart(
        key=key,
        points=tuple(
            Point(x=at[one.values.get(key)], y=TOP + height * (1 - Fraction(one.score or 0, BEST)), tried=one,
                  told=told_value(key, one.values, shelf, preference))
            for one in scored
        ),
        marks=tuple(
            (at[value], told_value(key, next(one.values for one in scored if one.values.get(key) == value), shelf,
                                   preference))
            for value in values
        ),
    )


def _place(value: Value, values: Sequence[Value], figures: bool) -> Fraction:
    """Return where a value stands between 0 and 1."""
    if not figures:
        return Fraction(values.index(value), max(len(values) - 1, 1))
    numbers = [Fraction(one) for one in values if isinstance(one, (Fraction, int))]
    low, high = min(numbers), max(numbers)
    return (Fraction(value) - low) / (high - low)  # type: ignore[arg-type]
