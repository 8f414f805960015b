"""Trials: given a version and a changed value, when it is tried, then what was tried stays and can be made again."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from django.db import IntegrityError, transaction
from hypothesis import given
from hypothesis import strategies as st

from recipes.facts import LEFT_OUT, YES
from recipes.finishes.authoring import NotADraft, is_open, start_draft
from recipes.finishes.difference import difference
from recipes.models import Trial
from recipes.reading import ANY_DAY, recipe_facts
from recipes.trials.against_stops import StopStands
from recipes.trials.changing import Change, NoSuchChange, apply, changes_between, renumbered
from recipes.trials.conducting import (
    Taken,
    TrialRefused,
    add_note,
    add_timing,
    amounts_needed,
    change_trial,
    close_trial,
    give_back,
    mixes_of,
    promote,
    start_trial,
    take_stock,
)
from recipes.trials.reading import changes_of, facts_of
from studio.house.clock import today
from studio.kit.locks import ChangedMeanwhile
from studio.stockroom.ledger import LedgerError
from studio.stockroom.models import Lot, Posting
from studio.whole.audit import audit
from tests import builders
from tests.recipes.finishes.test_bench_rules import SOUND
from tests.recipes.finishes.test_difference import recipe

STRONG = Change(step=3, part=1, what="strength", value="2")
LONG = Change(step=3, what="dwell_minutes", value="9")
HOT = Change(step=7, what="drying", value="hot air")
UNSEEN = Change(step=6, what=LEFT_OUT, value=YES)


@pytest.fixture
def shop(owner, rates):
    return builders.Workshop(owner)


# The pure part: changes as values -----------------------------------------------------------------------------------

BASE = recipe(*SOUND)
_amounts = st.decimals(min_value=0, max_value=500, places=3).map(lambda d: f"{d:f}".rstrip("0").rstrip(".") or "0")


@st.composite
def some_changes(draw):
    """Any set of changes of the sound recipe: values of steps and of parts, and steps left out."""
    found = {}
    for step in BASE.steps:
        if draw(st.integers(0, 9)) == 0:
            found[step.number, 0, LEFT_OUT] = YES
            continue
        for what, values in (
            ("dwell_minutes", _amounts), ("coverage_ml_per_m2", _amounts), ("motion", st.sampled_from(["still", "rocked"])),
            ("drying", st.sampled_from(["", "air", "hot air"])), ("dwell_attended", st.sampled_from(["yes", "no"])),
            ("temperature_low_c", _amounts), ("harshness", st.integers(0, 5).map(str)), ("instructions", st.text(max_size=9)),
            ("coats", st.integers(1, 4).map(str)),
        ):
            if draw(st.booleans()) and draw(st.booleans()):
                found[step.number, 0, what] = draw(values)
        for part in range(1, len(step.parts) + 1):
            if draw(st.booleans()):
                found[step.number, part, "strength"] = draw(st.integers(1, 8).map(lambda n: str(Decimal(n) / 4)))
    return tuple(Change(step=s, part=p, what=w, value=v) for (s, p, w), v in found.items())


@given(some_changes())
def test_changes_applied_and_read_off_again_are_the_same(changes):
    tried = apply(BASE, changes)
    again = changes_between(BASE, tried)
    assert apply(BASE, again) == tried
    assert changes_between(BASE, apply(BASE, again)) == again
    assert {(change.step, change.part, change.what) for change in again} <= {(change.step, change.part, change.what) for change in changes}


@pytest.mark.parametrize("change", [
    Change(step=99, what="dwell_minutes", value="1"), Change(step=1, what="colour", value="red"),
    Change(step=1, part=7, what="strength", value="2"), Change(step=0, what="dwell_minutes", value="1"),
])
def test_a_change_of_nothing_is_refused(change):
    with pytest.raises(NoSuchChange):
        apply(BASE, [change])


def test_a_step_more_is_no_trial():
    with pytest.raises(NoSuchChange, match="no step 99"):
        changes_between(BASE, replace(BASE, steps=(*BASE.steps, replace(BASE.steps[0], number=99))))


# At the bench ---------------------------------------------------------------------------------------------------------

def test_what_was_tried_from_stays_as_it_was(shop, owner):
    draft = start_draft(shop.recipe.finish, came_from=shop.recipe)
    assert is_open(draft)
    trial = builders.trial(draft, owner, STRONG)
    assert not is_open(draft)
    assert all(part.solution_version.frozen_at for step in draft.steps.all() for part in step.parts.all())
    with pytest.raises(IntegrityError, match="frozen"), transaction.atomic():
        draft.steps.update(coats=3)
    from recipes.finishes.authoring import add_step

    with pytest.raises(NotADraft, match="start a new draft"):
        add_step(draft, draft.saves, kind="dry", after=0)
    again = start_draft(draft.finish, came_from=draft)
    assert is_open(again)
    assert trial.number == 1


def test_a_trial_is_started_once_for_its_key(shop, owner):
    key = builders.key()
    both = [start_trial(key=key, by=owner, recipe_version=shop.recipe, changes=[STRONG], width_mm=Decimal(150),
                        height_mm=Decimal(150)) for _ in range(2)]
    assert both[0] == both[1]
    assert Trial.objects.count() == 1


def test_a_trial_of_nothing_or_of_an_unknown_solution_is_refused(shop, owner):
    with pytest.raises(TrialRefused, match="no steps yet"):
        builders.trial(builders.recipe("Empty", []), owner)
    with pytest.raises(TrialRefused, match="no solution dragon-blood/1"):
        builders.trial(shop.recipe, owner, Change(step=3, part=1, what="solution", value="dragon-blood/1"))
    assert not Trial.objects.exists()


def test_stock_is_deducted_once_from_the_lots_named(shop, owner, helper):
    trial, key = builders.trial(shop.recipe, helper, STRONG), builders.key()
    facts = facts_of([trial])
    needed = amounts_needed(mixes_of(trial, facts.tried[trial.pk], facts.shelf))
    # 900 mL/m² on 0.0225 m² is 20.25 mL, of two equal parts 10.125: 20 mL each; silver 12 g/L at double strength
    assert needed["silver-nitrate"] == Fraction(12) * 2 * 20 / 1000
    lot, before = shop.silver_lot, shop.silver_lot.level.on_hand
    for _ in range(2):
        take_stock(key=key, trial=trial, by=helper, day=today(), taken=[Taken(lot=lot, amount=Decimal("0.48"))])
    assert Lot.objects.get(pk=lot.pk).level.on_hand == before - Decimal("0.48")
    give_back(key=builders.key(), use=trial.uses.get(), by=helper, why="the other bottle")
    assert Lot.objects.get(pk=lot.pk).level.on_hand == before
    assert audit() == []


def test_a_held_lot_is_the_owners_to_use_and_too_little_takes_nothing(shop, owner, helper):
    trial, sugar = builders.trial(shop.recipe, helper), shop.lots[2]
    sugar.state, sugar.hold_reason = Lot.State.HELD, "label torn"
    sugar.save()
    taken = [Taken(lot=shop.silver_lot, amount=Decimal(1)), Taken(lot=sugar, amount=Decimal(1))]
    with pytest.raises(LedgerError, match="held: only the owner"):
        take_stock(key=builders.key(), trial=trial, by=helper, day=today(), taken=taken)
    with pytest.raises(LedgerError, match="only the owner"):
        take_stock(key=builders.key(), trial=trial, by=helper, day=today(), taken=taken, because="it is fine")
    with pytest.raises(LedgerError, match="not 9999"):
        take_stock(key=builders.key(), trial=trial, by=owner, day=today(), because="seen it",
                   taken=[taken[0], Taken(lot=sugar, amount=Decimal(9999))])
    assert not Posting.objects.filter(kind="trial").exists()
    posting = take_stock(key=builders.key(), trial=trial, by=owner, day=today(), taken=taken, because="assay came")
    assert {movement.note for movement in posting.movements.all()} == {"assay came"}


def test_stops_hold_for_trials_and_only_the_owner_tries_against_one(shop, owner, helper):
    """Given a finish without ammonia, its owner says why; with ammoniacal silver nobody tries against a stop."""
    fast = builders.recipe("Fast", [{"kind": "antique", "parts": [{"solution_version": shop.sealing}]}])
    with pytest.raises(StopStands, match="Only the owner"):
        builders.trial(fast, helper, against_because="Does it hold?")
    with pytest.raises(StopStands, match="Write why it is tried"):
        builders.trial(fast, owner)
    assert builders.trial(fast, owner, against_because="Does it hold on old glass?").pk
    open_rinse, no_safe = Change(step=4, what="rinse_collected", value="no"), Change(step=5, what=LEFT_OUT, value=YES)
    for change in (open_rinse, no_safe):
        with pytest.raises(StopStands, match="With ammoniacal silver nobody tries against"):
            builders.trial(shop.recipe, owner, change, against_because="Does it hold?")
    sound = builders.trial(shop.recipe, owner)
    with pytest.raises(StopStands, match="not collected"):
        change_trial(sound, sound.saves, by=owner, changes=[open_rinse])
    assert not sound.changes.exists()


def test_a_closed_trial_takes_notes_and_nothing_else(shop, owner):
    trial = builders.trial(shop.recipe, owner)
    add_timing(key=builders.key(), trial=trial, by=owner, step=3, seconds=301)
    with pytest.raises(TrialRefused, match="no step 77"):
        add_timing(key=builders.key(), trial=trial, by=owner, step=77, seconds=1)
    builders.nothing_mixed(trial, owner)
    with pytest.raises(ChangedMeanwhile):
        close_trial(trial, trial.saves - 1, verdict="liked", score=8)
    close_trial(trial, trial.saves, verdict="liked", score=8, kept_where="box 2")
    trial.refresh_from_db()
    for late in (
        lambda: change_trial(trial, trial.saves, by=owner, air_c=Decimal(9)),
        lambda: add_timing(key=builders.key(), trial=trial, by=owner, step=3, seconds=5),
        lambda: take_stock(key=builders.key(), trial=trial, by=owner, day=today(),
                           taken=[Taken(lot=shop.silver_lot, amount=Decimal(1))]),
    ):
        with pytest.raises(TrialRefused, match="is closed"):
            late()
    add_note(key=builders.key(), trial=trial, by=owner, text="Still good after a month.")
    assert trial.notes.count() == 1


@pytest.mark.parametrize("changes", [
    (), (STRONG,), (LONG, STRONG), (UNSEEN,), (HOT, LONG, UNSEEN, Change(step=0, what="film_nm", value="85")),
    (Change(step=3, what="how", value="pour"), Change(step=3, what="overspray_mm", value="0")),
    (Change(step=3, part=2, what="solution", value="plain-sugar/1"),),
    (Change(step=7, what="temperature_low_c", value="18"), Change(step=2, what="rinse_full", value="no")),
    (Change(step=3, part=1, what="mixed_for", value="pane"), Change(step=2, what="name", value="Long rinse")),
])
def test_a_promoted_draft_differs_by_exactly_the_trials_changes(shop, owner, changes):
    """Round trip: the version's difference from its parent is the trial's changes, no more and no less."""
    builders.solution("Plain sugar", {"material": shop.sugar, "amount": 5, "unit": "g"}, {"material": shop.water})
    trial = builders.trial(shop.recipe, owner, *changes, question="Does it hold?")
    draft = promote(trial, why="It held.")
    facts, shelf = recipe_facts([shop.recipe.pk, draft.pk], ANY_DAY)
    base, drafted = facts[shop.recipe.key], facts[draft.key]
    tried = apply(base, changes)
    assert renumbered(tried).steps == drafted.steps
    again = replace(drafted, key=base.key, version_number=base.version_number, in_use=True, steps=tuple(
        replace(step, number=was.number) for step, was in zip(drafted.steps, tried.steps, strict=True)
    ))
    assert changes_between(base, again) == changes_of(trial)
    assert difference(base, drafted, shelf).steps == difference(base, renumbered(tried), shelf).steps
    assert (draft.came_from, draft.came_from_trial, draft.why, draft.state) == (shop.recipe, trial, "It held.", "draft")
