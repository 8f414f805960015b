"""A studio's book edited by hand: what is changed in it, and why it is not loaded."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any

from jobs.work.kept import keep_leftover_of
from studio.stockroom.waste.containers import put_in
from studio.whole.book.save import book
from tests import builders
from tests.whole.loopholes.table import LOOPHOLES
from tests.whole.loopholes.world import World

Book = dict[str, Any]
Edit = Callable[[Book], object]
#: loophole → what somebody writes into the book, and what it is refused with
EDITS: dict[str, tuple[Edit, str]] = {}


def written(by: Any) -> Book:
    """The book of a studio whose bath is in use, with lots, leftovers, waste, a run and a trial that stand."""
    world = World(by)
    world.one_step("Bleach", "Hartshorn")
    builders.put_version_in_use(builders.recipe("Bath finish", world.steps()), by)
    for version in (world.plain, world.stock):
        world.mixed_ahead(version)
    keep_leftover_of(run=world.finished, mix_key=world.mix_named(world.finished, "Reducer").mix.key,
                     volume_ml=Fraction(10), key=builders.key(), by=by)
    put_in(key=builders.key(), container=world.drum, by=by, what="first rinse", agents=[], volume_ml=Decimal(1000),
           source=world.source(world.finished))
    world.standing_run()
    world.start(world.trial())
    return book()


def edited(loophole: str, sentence: str) -> Callable[[Edit], Edit]:
    def enter(edit: Edit) -> Edit:
        assert loophole in LOOPHOLES
        EDITS[loophole] = (edit, sentence)
        return edit

    return enter


def named(book: Book, section: str, code: str) -> Book:
    return next(row for row in book[section] if code in (row.get("code"), row.get("lot_number"), row.get("material")))


def version(book: Book, solution: str) -> Book:
    return named(book, "solutions", solution)["versions"][0]  # type: ignore[no-any-return]


def steps(book: Book) -> list[Book]:
    return named(book, "finishes", "bath-finish")["versions"][0]["steps"]  # type: ignore[no-any-return]


def run(book: Book, job: int) -> Book:
    return book["jobs"][job - 1]["tickets"][0]["run"]  # type: ignore[no-any-return]


def later(moment: str, **more: int) -> str:
    return (datetime.fromisoformat(moment) + timedelta(**more)).isoformat()


@edited("kept", "never stored and never mixed ahead")
def kept(book: Book) -> None:
    version(book, "bath")["keeps"] = "1 day"


@edited("made ahead", "is of Bath, version 1, which is used at once")
def made_ahead(book: Book) -> None:
    version(book, "bath")["made_lots"] = version(book, "plain-silver-stock").pop("made_lots")


@edited("by an ammonium salt", "never stored and never mixed ahead")
def by_an_ammonium_salt(book: Book) -> None:
    bath = version(book, "bath")
    bath["keeps"], bath["ingredients"][1]["material"] = "1 day", "firework-salt"


@edited("inside a part", "never stored and never mixed ahead")
def inside_a_part(book: Book) -> None:
    dose = {"number": 1, "unit": "mL", "amount_per_litre": "100 mL"}
    version(book, "plain-silver-stock")["ingredients"][0] = {**dose, "solution": "bath/1"}
    version(book, "sugar-stock")["ingredients"][0] = {**dose, "solution": "plain-silver-stock/1"}


@edited("a newer version", "never stored and never mixed ahead")
def a_newer_version(book: Book) -> None:
    stock, bath = named(book, "solutions", "plain-silver-stock"), version(book, "bath")
    stock["versions"].append({"number": 2, "keeps": "1 day", "ingredients": [dict(row) for row in bath["ingredients"]]})


@edited("class taken away", "never stored and never mixed ahead")
def class_taken_away(book: Book) -> None:
    named(book, "materials", "hartshorn")["none_apply"] = True
    version(book, "bath")["keeps"] = "1 day"


@edited("identity cleared", "nobody has said what it reacts as")
def identity_cleared(book: Book) -> None:
    del named(book, "materials", "lye")["cas_number"]


@edited("unclassed kept", "Unread powder")
def unclassed_kept(book: Book) -> None:
    version(book, "plain-silver-stock")["ingredients"][0]["material"] = "unread-powder"


@edited("unclassed in use", "nobody has said what it reacts as")
def unclassed_in_use(book: Book) -> None:
    version(book, "bath")["ingredients"][2]["material"] = "unread-powder"


def washed(step: Book, *washes: str) -> None:
    step["parts"] = [{"number": at, "solution": wash} for at, wash in enumerate(washes, start=1)]


@edited("parts of a step", "In one step")
def parts_of_a_step(book: Book) -> None:
    washed(steps(book)[0], "bleach-wash/1", "hartshorn-wash/1")


@edited("carried on the pane", "There is no full rinse between")
def carried_on_the_pane(book: Book) -> None:
    first, second = steps(book)[:2]
    washed(first, "bleach-wash/1")
    washed(second, "hartshorn-wash/1")


@edited("not collected", "is not collected in this rinse")
def not_collected(book: Book) -> None:
    del steps(book)[3]["rinse_collected"]


@edited("never made safe", "No step makes the ammoniacal silver safe")
def never_made_safe(book: Book) -> None:
    del steps(book)[4]
    for number, step in enumerate(steps(book), start=1):
        step["number"] = number


@edited("stands too long", "longer than 30 minutes")
def stands_too_long(book: Book) -> None:
    book["house"]["ammoniacal_limit_minutes"] = 30
    steps(book)[2]["dwell"] = "31 min"


@edited("no procedure", "making-safe procedure first")
def no_procedure(book: Book) -> None:
    del book["house"]["making_safe_procedure"]


@edited("procedure emptied", "making-safe procedure first")
def procedure_emptied(book: Book) -> None:
    book["house"]["making_safe_procedure"] = "  "


@edited("run ended", "still stands|was never made safe")
def run_ended(book: Book) -> None:
    clock = next(row for row in book["silver_clocks"] if row["key"] == run(book, 1)["clocks"][0])
    del clock["made_safe"]


@edited("job cancelled", "cancelled")
def job_cancelled(book: Book) -> None:
    book["jobs"][1]["state"] = "cancelled"


@edited("trial closed", "still stands")
def trial_closed(book: Book) -> None:
    book["trials"][0] |= {"closed_at": book["trials"][0]["started_at"], "verdict": "liked"}


@edited("making safe of others", "Nothing is made safe before it is mixed")
def making_safe_of_others(book: Book) -> None:
    clock = next(row for row in book["silver_clocks"] if row["key"] == run(book, 2)["clocks"][0])
    clock["made_safe"] = book["makings_safe"][0]["key"]


def leftover(book: Book) -> Book:
    return run(book, 1)["kept_leftovers"][0]  # type: ignore[no-any-return]


def lot_of(book: Book, kept: Book) -> Book:
    return next(row for row in book["lots"] if kept["lot"] == {name: row[name] for name in ("material", "lot_number")})


@edited("leftover of a bath", "is of Silver part, which is never kept")
def leftover_of_a_bath(book: Book) -> None:
    leftover(book)["mix"] = "m3b1"


@edited("leftover longer", "kept past the keeping time of Reducer|younger than its mix")
def leftover_longer(book: Book) -> None:
    lot = lot_of(book, leftover(book))
    lot["discard_at"] = later(lot["discard_at"], days=9)


@edited("leftover too much", "More is kept of Reducer than")
def leftover_too_much(book: Book) -> None:
    kept = leftover(book)
    lot = lot_of(book, kept)
    for row in (kept, *(moved for posting in book["postings"] for moved in posting["movements"]
                        if moved["lot"] == kept["lot"])):
        row["volume" if row is kept else "quantity"] = "90000 mL"
    kept["mixed"] = lot["quantity_received"] = "90000 mL"


@edited("made here, delivered", "never from a delivery")
def made_here_delivered(book: Book) -> None:
    lot = lot_of(book, leftover(book))
    for name in ("made_here", "made_at", "discard_at"):
        del lot[name]


@edited("waste told otherwise", "which was not made safe")
def waste_told_otherwise(book: Book) -> None:
    entries = book["waste_containers"][0]["entries"]
    entries.append({**entries[0], "key": str(builders.key()), "what": "clear water", "source": "run 2/1"})
    for name in ("reacts_as", "met_at_bench", "made_safe"):
        entries[-1].pop(name, None)


@edited("waste not taken", "does not take")
def waste_not_taken(book: Book) -> None:
    book["waste_containers"][0]["takes"] = ["acid"]


@edited("waste too much", "holds no more than it may")
def waste_too_much(book: Book) -> None:
    book["waste_containers"][0]["holds_most"] = "500 mL"


@edited("waste silver", "it can have left")
def waste_silver(book: Book) -> None:
    book["waste_containers"][0]["entries"][0]["silver"] = "400 g"


@edited("stored beside", "")
def stored_beside(book: Book) -> None:
    """Where things stand is the truth: it is loaded, and said."""
    for code in ("bleach", "hartshorn"):
        named(book, "materials", code)["storage_place"] = "low shelf"
