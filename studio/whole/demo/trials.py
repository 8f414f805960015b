"""The demo's trials: an invented studio tries one thing after another on small panes.

Each: finish, version, the trial it goes on from, days before, changes as (step, part, what, value), the question,
the effect's strength in the illustration, score, verdict, remark. Scores and remarks are invented.
"""

from __future__ import annotations

from typing import Any

DOUBLE_SENSITISER = (3, 1, "strength", "2")

TRIALS: list[dict[str, Any]] = [
    {
        "finish": "ridge-water",
        "version": 1,
        "days": 130,
        "changes": [],
        "question": "As written, to compare the rest with.",
        "strength": 0.5,
        "score": 5,
        "verdict": "further",
        "note": "Ridges low and far apart. Even to the rim.",
    },
    {
        "finish": "ridge-water",
        "version": 1,
        "days": 129,
        "changes": [(5, 0, "motion", "rocked")],
        "question": "Rocked instead of left still?",
        "strength": 0.1,
        "score": 2,
        "verdict": "left",
        "note": "No ridges at all: bright, even, and not what was wanted.",
    },
    {
        "finish": "ridge-water",
        "version": 1,
        "days": 128,
        "changes": [DOUBLE_SENSITISER],
        "question": "What does doubling the sensitiser do?",
        "strength": 0.95,
        "score": 9,
        "verdict": "liked",
        "note": "Ridges stand up and run the whole width. Front much stronger than the back.",
    },
    {
        "finish": "smoke-veil",
        "version": 2,
        "days": 48,
        "changes": [],
        "question": "As written, to compare the rest with.",
        "strength": 0.55,
        "score": 6,
        "verdict": "further",
        "note": "Soft, a little thin at the top edge.",
    },
    {
        "finish": "smoke-veil",
        "version": 2,
        "days": 47,
        "changes": [(9, 1, "strength", "1")],
        "question": "Full-strength copper again?",
        "strength": 0.95,
        "score": 4,
        "verdict": "left",
        "note": "Goes over too fast to stop it where it should stop.",
    },
    {
        "finish": "smoke-veil",
        "version": 2,
        "days": 46,
        "changes": [DOUBLE_SENSITISER],
        "question": "What does doubling the sensitiser do?",
        "strength": 0.7,
        "score": 8,
        "verdict": "liked",
        "note": "The veil holds at the top edge now. Silver thicker: the dwell could be shorter.",
    },
    {
        "finish": "smoke-veil",
        "version": 2,
        "days": 44,
        "changes": [(9, 0, "dwell_minutes", "2")],
        "question": "Half the dwell?",
        "strength": 0.3,
        "score": 5,
        "verdict": "left",
        "note": "Hardly there at a distance.",
    },
    {
        "finish": "smoke-veil",
        "version": 2,
        "days": 43,
        "changes": [DOUBLE_SENSITISER, (9, 0, "dwell_minutes", "3")],
        "from": 6,
        "question": "Double sensitiser with a shorter veil?",
        "strength": 0.6,
        "score": 9,
        "verdict": "liked",
        "note": "The best so far: full at the top, soft where it thins out.",
    },
    {
        "finish": "smoke-veil",
        "version": 2,
        "days": 1,
        "from": 6,
        "changes": [DOUBLE_SENSITISER, (11, 0, "drying", "hot air")],
        "question": "Hot air at the end instead of air?",
        "strength": 0.65,
        "score": None,
        "verdict": "",
        "note": "Dried in four minutes. To be looked at in daylight.",
    },
]


def make_trials(owner: Any, helper: Any) -> None:
    """Make every trial by the services the app uses, close those that were judged, promote the best."""
    from datetime import timedelta
    from decimal import Decimal

    from recipes.finishes.bench_rules import clock_starts
    from recipes.models import RecipeVersion, Trial
    from recipes.trials.changing import Change
    from recipes.trials.conducting import (
        Taken,
        add_note,
        add_photograph,
        add_timing,
        amounts_needed,
        change_trial,
        close_trial,
        make_trial_safe,
        mixes_of,
        promote,
        start_trial,
        start_trial_clock,
        take_stock,
    )
    from recipes.trials.reading import facts_of
    from studio.house.clock import now, today
    from studio.stockroom.models import Lot, Material
    from studio.whole.demo.days import next_key, on
    from studio.whole.demo.draw_pictures import drawn_trial

    for number, entry in enumerate(TRIALS, start=1):
        with on(entry["days"], 14):
            version = RecipeVersion.objects.get(finish__code=entry["finish"], number=entry["version"])
            trial = start_trial(
                key=next_key(), by=helper, recipe_version=version, width_mm=Decimal(150), height_mm=Decimal(150),
                size_text="150 x 150 mm", question=entry["question"],
                glass=Material.objects.get(name="Low-iron float 4 mm" if entry["finish"] == "ridge-water"
                                           else "Clear float 4 mm"),
                parent=Trial.objects.get(number=entry["from"]) if "from" in entry else None,
                changes=[Change(step=step, part=part, what=what, value=value)
                         for step, part, what, value in entry["changes"]],
            )
            change_trial(trial, 1, by=helper, air_c=Decimal(19) + number % 3, glass_c=Decimal(19),
                         solution_c=Decimal(20), humidity_share=Decimal("0.5") + Decimal(number % 4) / 20,
                         water="distilled", conductivity_us_cm=Decimal(2))
            add_timing(key=next_key(), trial=trial, by=helper, step=5, seconds=300 + 7 * number,
                       at=now() + timedelta(minutes=40))
            if entry["days"] < 60:  # earlier ones were made before the shelf was kept here
                facts = facts_of([trial])
                taken = []
                for code, amount in sorted(amounts_needed(mixes_of(trial, facts.tried[trial.pk], facts.shelf)).items()):
                    lot = next((lot for lot in Lot.objects.filter(material__code=code, level__on_hand__gt=0)
                                .select_related("material").order_by("received_on", "pk")
                                if not lot.has_expired(today()) and lot.state == "usable"), None)
                    if lot is not None and amount > 0:
                        taken.append(Taken(lot=lot, amount=Decimal(f"{float(amount):.3f}")))
                take_stock(key=next_key(), trial=trial, by=helper, taken=[take for take in taken if take.amount > 0],
                           day=today())
            for side in ("front", "back"):
                add_photograph(key=next_key(), trial=trial, by=helper, side=side,
                               content=drawn_trial(entry["finish"], number, side, entry["strength"]))
            add_note(key=next_key(), trial=trial, by=helper, text=entry["note"])
        with on(entry["days"], 15):
            facts = facts_of([trial])
            clocks = [start_trial_clock(key=next_key(), trial=trial, by=helper, subject=start.key,
                                        done_at=now() - timedelta(minutes=50))
                      for start in clock_starts(facts.tried[trial.pk], facts.shelf)]
            if clocks:
                make_trial_safe(
                    key=next_key(), trial=trial, by=helper, clocks=[clock.pk for clock in clocks if clock],
                    procedure="The studio's written procedure",
                    treated=["leftovers", "first rinse", "guns", "hoses", "nozzles", "trays"],
                    done_at=now() - timedelta(minutes=10),
                )
        if entry["verdict"]:
            with on(entry["days"] - 1, 11):
                trial.refresh_from_db()
                close_trial(trial, trial.saves, verdict=entry["verdict"], score=entry["score"],
                            kept_where=f"sample box {1 + number // 6}, slot {number}")
    with on(40, 16):
        promote(Trial.objects.get(number=8), why="Double sensitiser, shorter veil: full at the top, soft below.")
