"""What was recorded of a run, in words, by what it was recorded of: for the page at the bench, and for its polling."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from jobs.models import RunEntry
from jobs.work.bench import BenchState, MixState
from jobs.work.entries import done_at, who
from studio.house.clock import house_zone

Kind = RunEntry.Kind
Said = dict[str, dict[str, Any]]


def said_of(state: BenchState) -> Said:
    """Return, by kind and subject, the newest record's key, what it says, and whether it is done with."""
    found: Said = {}
    for mix in state.mixes:
        if mix.made is not None:
            found[f"{Kind.MIXED} {mix.key}"] = _of_mix(mix)
    for subject, step in state.steps.items():
        found[f"{Kind.STEP} {subject}"] = {
            "record": step.record, "done": step.done is not None, "by": step.by,
            "began": step.began.isoformat() if step.began else None,
            "words": f"Done {_clock(step.done)}, {step.by}" if step.done
            else f"Begun {_clock(step.began)}, {step.by}" if step.began else "",
        }
    for subject, numbers in state.added.items():
        found[f"{Kind.ADDED} {subject}"] = {"numbers": list(numbers), "record": "", "done": False, "words": ""}
    for kind, subjects in ((Kind.PANE, [pane.label for pane in state.panes]), (Kind.GLASS, sorted(state.cut)),
                           (Kind.CONDITIONS, [""]), (Kind.TIME, [""]), (Kind.MADE_SAFE, [""])):
        found |= dict(_newest(state, kind, subjects))
    return found


def _newest(state: BenchState, kind: str, subjects: Iterable[str]) -> Iterable[tuple[str, dict[str, Any]]]:
    for subject in subjects:
        entry = state.entries.newest(kind, subject)
        if entry is not None:
            what = entry.content.get("outcome", "recorded")
            yield f"{kind} {subject}", {
                "record": str(entry.client_key), "done": True,
                "words": f"{what.capitalize()} {_clock(done_at(entry))}, {who(entry)}",
            }


def _of_mix(mix: MixState) -> dict[str, Any]:
    words = mix.how
    at = f" {_clock(mix.at)}" if mix.at else ""
    return {
        "record": mix.record, "done": True, "words": f"{words[0].upper()}{words[1:]}{at}",
        "ask": "; ".join(mix.questions),
    }


def _clock(moment: datetime | None) -> str:
    return moment.astimezone(house_zone()).strftime("%H:%M") if moment else ""
