"""What a further ticket is planned from: the panes still to make, out of a quote's frozen basis. Pure: no Django."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace

from jobs.estimating.basis import Basis, Discount, KeptOffcut
from jobs.work.ticket_plan import TicketMatch, TicketPlan, TicketRecipe
from studio.kit.typed_numbers import whole_number


@dataclass(frozen=True, kw_only=True)
class StillToMake:
    """The panes of a job that no run made good. panes: label, and what spoilt it last ("": it was never started)."""

    ordered: int
    panes: tuple[tuple[str, str], ...]

    def __bool__(self) -> bool:
        return bool(self.panes)

    @property
    def count(self) -> int:
        return len(self.panes)

    @property
    def labels(self) -> list[str]:
        return [label for label, _ in self.panes]

    @property
    def sentence(self) -> str:
        """Return what is still to make, in words."""
        are = "is" if self.count == 1 else "are"
        return f"{self.count} of {self.ordered} pane{'' if self.ordered == 1 else 's'} {are} still to make: " + (
            f"{', '.join(self.labels)}.")

    @property
    def by_line(self) -> dict[int, list[int]]:
        """Return the copies to make by line number: 2 and 5 of line 1 for panes 1.2 and 1.5."""
        found: dict[int, list[int]] = {}
        for label in self.labels:
            line, _, copy = label.partition(".")
            found.setdefault(whole_number(line), []).append(whole_number(copy))
        return found


def what_is_left(ordered: Iterable[tuple[int, int]], results: Iterable[tuple[int, str, bool, str]]) -> StillToMake:
    """Return the ordered panes that are still to make. A good spare stands in for a pane that was spoilt.

    ordered: line number and panes ordered. results: of all runs in order, line number, label, good, what spoilt it.
    """
    good: dict[int, set[str]] = {}
    because: dict[str, str] = {}
    for line, label, is_good, why in results:
        if is_good:
            good.setdefault(line, set()).add(label)
        else:
            because[label] = why
    lines = sorted(ordered)
    panes = []
    for line, quantity in lines:
        mine = good.get(line, set())
        labels = [label for label in (f"{line}.{copy}" for copy in range(1, quantity + 1)) if label not in mine]
        panes += [(label, because.get(label, "")) for label in labels[:max(quantity - len(mine), 0)]]
    return StillToMake(ordered=sum(quantity for _, quantity in lines), panes=tuple(panes))


def basis_of_rest(
    basis: Basis, by_line: Mapping[int, Collection[int]], offcuts: Mapping[str, Collection[KeptOffcut]],
    cut_from_sheets: bool = False,
) -> Basis:
    """Return the basis of the panes still to make: just so many, without spares; rates and recipes as frozen.

    offcuts: those free now, by glass; those of the quote may be gone. cut_from_sheets: lines that were to be cut from
    kept offcuts are cut from sheets. What was bought in, and the discount, belong to the order as a whole.
    """
    return replace(
        basis, bought_in=(), discount=Discount(),
        lines=tuple(
            replace(line, quantity=len(by_line[line.number]), own_panes_to_start=len(by_line[line.number]),
                    plan="spares", route="sheet" if cut_from_sheets and line.route == "offcut" else line.route)
            for line in basis.lines if by_line.get(line.number)
        ),
        glasses={key: replace(glass, offcuts=tuple(offcuts.get(key, ()))) for key, glass in basis.glasses.items()},
    )


def with_own_labels(plan: TicketPlan, still: StillToMake, bought_in: Collection[str] = ()) -> TicketPlan:
    """Return a plan that counts its panes from 1 with the labels they have, and with a word that it makes them again.

    bought_in: names of what was bought in for these panes, which is not planned again.
    """
    names = {f"{line}.{at}": f"{line}.{copy}" for line, copies in still.by_line.items()
             for at, copy in enumerate(copies, start=1)}
    spoilt = dict(still.panes)
    said = [f"This ticket is for what is left of the job. {still.sentence}"]
    if bought_in:
        said.append(f"Not planned again, and needed for them as before: {', '.join(bought_in)}.")
    return replace(
        plan, warnings=[*said, *plan.warnings],
        panes=[
            replace(pane, label=names[pane.label], spare=False, note="; ".join(filter(None, [
                pane.note, _made_again(spoilt[names[pane.label]])])))
            for pane in plan.panes
        ],
        glass=[
            replace(glass, plan=[
                replace(sheet, pieces=[replace(piece, pane=names[piece.pane]) for piece in sheet.pieces])
                for sheet in glass.plan
            ])
            for glass in plan.glass
        ],
        recipes=[_recipe(recipe, names) for recipe in plan.recipes],
        mixes=[replace(mix, pane=names.get(mix.pane, mix.pane)) for mix in plan.mixes],
        match_groups=[_match(match, names) for match in plan.match_groups],
    )


def _made_again(because: str) -> str:
    return f"made again, spoilt before: {because}" if because else ""


def _recipe(recipe: TicketRecipe, names: Mapping[str, str]) -> TicketRecipe:
    return replace(
        recipe,
        loads=[replace(load, panes=[names[label] for label in load.panes]) for load in recipe.loads],
        steps=[
            replace(step, volume_per_pane_ml={
                load: {names[label]: volume for label, volume in panes.items()}
                for load, panes in step.volume_per_pane_ml.items()
            })
            for step in recipe.steps
        ],
    )


def _match(match: TicketMatch, names: Mapping[str, str]) -> TicketMatch:
    return replace(match, panes=[(place, names[label]) for place, label in match.panes])
