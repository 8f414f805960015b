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


def _mark(*told: object) -> int:
    """Return a whole number that scatters well, as the hash of a tuple of small numbers does not: sums of those
    meet by design (twice the strength and half the dwell), and a pair would be missed.
    """
    return hash("|".join(map(str, told)))


class LaidStep:
    """A step's values laid out once, each with its mark, and the sum of the marks."""

    __slots__ = ("mark", "marks", "values")

    def __init__(self, values: Mapping[Within, Value]) -> None:
        self.values = values
        self.marks = {within: _mark(*within, hash(value)) for within, value in values.items()}
        self.mark = sum(self.marks.values())


NOTHING = LaidStep({})


@dataclass(frozen=True, kw_only=True)
class Tried:
    """A trial or a version as it is compared: its recipe, pane and glass, its score where it has one.

    steps: its values, step by step; steps that are alike in several trials share one layout.
    """

    name: str
    address: str
    recipe: RecipeFacts
    width_mm: Fraction | None = None
    height_mm: Fraction | None = None
    glass: str = ""
    score: int | None = None
    number: int = 0
    steps: Mapping[StepKey, LaidStep] = field(default_factory=dict, compare=False)

    def has(self, key: Key) -> bool:
        return key.within in self.steps.get(key.of_step, NOTHING).values

    def value(self, key: Key) -> Value:
        return self.steps.get(key.of_step, NOTHING).values.get(key.within)

    def does(self, step: StepKey) -> bool:
        """Say whether a step is done, not left out."""
        return step in self.steps


class Laying:
    """Lays out values step by step, each different step once: thousands of trials share most of theirs."""

    def __init__(self) -> None:
        self._steps: dict[StepFacts, LaidStep] = {}
        self._wholes: dict[tuple[tuple[Within, Value], ...], LaidStep] = {}

    def lay(self, tried: Tried) -> Tried:
        """Return it with its values. A step that is left out has none."""
        whole: dict[Within, Value] = {(0, "film_nm"): tried.recipe.film_nm}
        if tried.width_mm is not None and tried.height_mm is not None:
            whole[0, "pane"] = show_size(tried.width_mm, tried.height_mm)
            whole[0, "glass"] = tried.glass
        steps = {WHOLE: self._wholes.setdefault(tuple(whole.items()), LaidStep(whole))}
        seen: dict[str, int] = defaultdict(int)
        for step in tried.recipe.steps:
            label = step.name or step.kind
            seen[label] += 1
            steps[label, seen[label]] = self._of(step)
        return replace(tried, steps=steps)

    def _of(self, step: StepFacts) -> LaidStep:
        laid = self._steps.get(step)
        if laid is None:
            laid = self._steps[step] = LaidStep(_of_step(step))
        return laid


def _of_step(step: StepFacts) -> dict[Within, Value]:
    values: dict[Within, Value] = {(0, DONE): True}
    values |= {(0, name): getattr(step, name) for name in STEP_VALUES if name != "name"}
    for number, part in enumerate(step.parts, start=1):
        values |= {(number, name): getattr(part, name) for name in PART_VALUES}
    return values


def told_key(key: Key, several_parts: bool = False) -> str:
    """Return a key in words: “Sensitise: strength”."""
    if not key.step:
        return {"film_nm": "film", "pane": "pane", "glass": "glass"}[key.what]
    nth = f" ({key.nth})" if key.nth > 1 else ""
    what = "done or left out" if key.what == DONE else VALUES.get(key.what, (key.what, ""))[0]
    return f"{key.step}{nth}: {what}" + (f", part {key.part}" if several_parts and key.part else "")


def told_value(key: Key, tried: Tried, shelf: Shelf, preference: str = "metric") -> str:
    """Return a value in words; “left out” where its step is."""
    if not tried.does(key.of_step):
        return "left out"
    if key.what == DONE:
        return "done"
    if not tried.has(key):
        return "none"
    value = tried.value(key)
    return str(value) if key.what in ("pane", "glass") else value_words(key.what, value, shelf, preference)


@dataclass(frozen=True, kw_only=True)
class Row:
    """One value that differs: its name, and how each of the compared has it."""

    name: str
    values: tuple[str, ...]


def differing(tried: Sequence[Tried], shelf: Shelf, preference: str = "metric") -> list[Row]:
    """Return the values in which the compared differ, in the order of the steps; what is alike is left out."""
    keys = list(dict.fromkeys(
        Key(*step, *within) for one in tried for step, laid in one.steps.items() for within in laid.values
    ))
    rows = []
    for key in keys:
        present = [one for one in tried if one.does(key.of_step) and (key.step or one.has(key))]
        if key.what == DONE:
            differs = len(present) < len(tried)
        else:
            differs = len({one.value(key) for one in present}) > 1
        if differs:
            told = tuple(told_value(key, one, shelf, preference) for one in tried)
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

    Trials are grouped by everything but one value, through one sum of marks each: so it grows with trials × values.
    """
    weights = {step: _mark(*step) for step in dict.fromkeys(step for one in tried for step in one.steps)}
    sums = [sum(weights[step] * laid.mark for step, laid in one.steps.items()) for one in tried]
    found: dict[Key, list[Pair]] = {}
    for key in _moving(tried):
        groups = _alike_otherwise(key, tried, sums, weights[key.of_step])
        pairs = [
            pair for group in groups if len(group) > 1
            for pair in _pairs(key, group) if _alike_but(key, pair.before, pair.after)
        ]
        if pairs:
            found[key] = sorted(pairs, key=lambda pair: -max(pair.before.number, pair.after.number))
    return found


def _alike_otherwise(key: Key, tried: Sequence[Tried], sums: Sequence[int], weight: int) -> list[list[Tried]]:
    """Return the trials in groups that are alike, as their marks say, in all but one value.

    sums: each trial's marks, those of a step by its weight: the same values at another step count otherwise.
    Where the value is whether a step is done, the group holds those that leave it out as well.
    """
    groups: dict[int, list[Tried]] = defaultdict(list)
    step, within = key.of_step, key.within
    for one, whole in zip(tried, sums, strict=True):
        laid = one.steps.get(step)
        if key.what == DONE:
            groups[whole - weight * (laid or NOTHING).mark].append(one)
        elif laid is not None and within in laid.marks:
            groups[whole - weight * laid.marks[within]].append(one)
    return list(groups.values())


def _moving(tried: Sequence[Tried]) -> list[Key]:
    """Return the values that are not alike everywhere; of each step, looking once at each way it was done."""
    ways: dict[StepKey, dict[LaidStep, None]] = defaultdict(dict)
    done: dict[StepKey, int] = defaultdict(int)
    for one in tried:
        for step, laid in one.steps.items():
            ways[step][laid] = None
            done[step] += 1
    moving = []
    for step, different in ways.items():
        for within in dict.fromkeys(within for laid in different for within in laid.values):
            key = Key(*step, *within)
            if key.what == DONE:
                varies = done[step] < len(tried)
            else:
                varies = len({laid.values.get(within) for laid in different}) > 1
            if varies:
                moving.append(key)
    return moving


def _alike_but(key: Key, one: Tried, other: Tried) -> bool:
    """Say whether two differ in one value alone; for a step that is left out, in nothing but that step."""
    if key.what != DONE and one.value(key) == other.value(key):
        return False
    for step in one.steps.keys() | other.steps.keys():
        a, b = one.steps.get(step, NOTHING), other.steps.get(step, NOTHING)
        if a is b or (key.what == DONE and step == key.of_step):
            continue
        but = key.within if step == key.of_step else None
        if {k: v for k, v in a.values.items() if k != but} != {k: v for k, v in b.values.items() if k != but}:
            return False
    return True


def _pairs(key: Key, group: Sequence[Tried]) -> list[Pair]:
    """Pair the newest of each value with the newest of the next one up."""
    newest: dict[Value, Tried] = {}
    for one in sorted(group, key=lambda one: (one.score is not None, one.number)):
        newest[one.value(key)] = one
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
    line: tuple[tuple[Fraction, Fraction], ...]


WIDTH, HEIGHT, LEFT, TOP, RIGHT, BOTTOM = 100, 50, 8, 4, 4, 9
BEST = 10
MOST_POINTS = 200


def score_chart(key: Key, tried: Sequence[Tried], shelf: Shelf, preference: str = "metric") -> Chart | None:
    """Return the chart of score against a value, or None with fewer than two values scored.

    Figures stand in proportion; words stand side by side. The line joins the middle score of each value; of very
    many trials the newest stand as points.
    """
    scored = [one for one in tried if one.score is not None and (one.has(key) or key.what == DONE)]
    example = {one.value(key): one for one in scored}
    values = sorted(example, key=_sort_key)
    if len(values) < 2:
        return None
    figures = all(isinstance(value, (Fraction, int)) and not isinstance(value, bool) for value in values)
    width = WIDTH - LEFT - RIGHT
    at = {value: LEFT + 10 + _place(value, values, figures) * (width - 20) for value in values}
    told = {value: told_value(key, one, shelf, preference) for value, one in example.items()}
    scores: dict[Value, list[int]] = defaultdict(list)
    for one in scored:
        scores[one.value(key)].append(one.score or 0)
    return Chart(
        key=key,
        points=tuple(
            Point(x=at[one.value(key)], y=_height(Fraction(one.score or 0)), tried=one, told=told[one.value(key)])
            for one in sorted(scored, key=lambda one: -one.number)[:MOST_POINTS]
        ),
        marks=tuple((at[value], told[value]) for value in values),
        line=tuple((at[value], _height(Fraction(sum(scores[value]), len(scores[value])))) for value in values),
    )


def _height(score: Fraction) -> Fraction:
    return TOP + (HEIGHT - TOP - BOTTOM) * (1 - score / BEST)


def _place(value: Value, values: Sequence[Value], figures: bool) -> Fraction:
    """Return where a value stands between 0 and 1."""
    if not figures:
        return Fraction(values.index(value), max(len(values) - 1, 1))
    numbers = [Fraction(one) for one in values if isinstance(one, (Fraction, int))]
    low, high = min(numbers), max(numbers)
    return (Fraction(value) - low) / (high - low)  # type: ignore[arg-type]
