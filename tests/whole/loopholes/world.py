"""The studio that the loopholes are tried in: materials known by CAS number alone, nothing ticked."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from html import unescape
from typing import Any

from django.test import Client

from jobs.models import Run
from jobs.work.bench import bench_state, note
from jobs.work.clock import clocks_of
from jobs.work.finishing import finish_run
from recipes.finishes.bench_rules import RULES
from recipes.models import Finish, RecipeVersion, SilverClock, SolutionVersion
from recipes.solutions.mixing_ahead import mix_ahead
from recipes.trials.conducting import start_trial_clock
from studio.house.clock import today
from studio.stockroom.models import Lot, Material, WasteContainer
from tests import builders

#: CAS number and stock unit, as on the bottle
BOTTLES = {
    "Lunar salt": ("7761-88-8", "g"), "Hartshorn": ("1336-21-6", "mL"), "Lye": ("1310-73-2", "g"),
    "Firework salt": ("6484-52-2", "g"), "Bleach": ("7681-52-9", "mL"), "Muriatic acid": ("7647-01-0", "mL"),
    "Liver": ("1313-82-2", "g"), "Unread powder": ("", "g"),
}


class World:
    """A studio with its bottles, an open run, a finished one, a trial, and a drum."""

    def __init__(self, by: Any) -> None:
        self.owner = by
        self.shop = builders.Workshop(by)
        self.bottles = {name: builders.material(name, unit, cas_number=cas) for name, (cas, unit) in BOTTLES.items()}
        for name, bottle in self.bottles.items():
            builders.lot(bottle, "1000", by, name)
        self.bath = builders.solution("Bath", *self.doses("Lunar salt", "Hartshorn", "Lye"), keeps_minutes=None)
        self.plain = builders.solution("Plain silver stock", *self.doses("Lunar salt"))
        self.stock = builders.solution("Sugar stock", {"material": self.shop.sugar, "amount": 9, "unit": "g"},
                                       {"material": self.shop.water}, keeps_minutes=Decimal(120))
        self.finished = finish_run(run=builders.worked(self.shop.run(), by), by=by)
        self.finished.refresh_from_db()
        self.drum = WasteContainer.objects.create(name="S-1", meant_for="silver rinse", opened_on=today())

    def doses(self, *names: str) -> list[dict[str, Any]]:
        """Some bottles and the water that makes them up, as ingredients."""
        rows = [{"material": self.bottles[name], "amount": 10, "unit": BOTTLES[name][1]} for name in names]
        return [*rows, {"material": self.shop.water}]

    def client(self) -> Client:
        client = Client()
        client.force_login(self.owner)
        return client

    def post(self, page: str, client: Client | None = None, **sent: Any) -> str:
        """Send a form and read the page that answers."""
        answer = (client or self.client()).post(page, {"key": builders.key()} | sent, follow=True)
        assert answer.status_code in (200, 404, 422)
        return " ".join(unescape(answer.content.decode()).split())

    def typed(self, name: str, *what: Material | SolutionVersion, **more: Any) -> dict[str, Any]:
        """A solution as its form sends it: some of each, made up with water."""
        sent: dict[str, Any] = {"solution-name": name, "in-TOTAL_FORMS": len(what) + 1, "in-INITIAL_FORMS": 0}
        for at, row in enumerate([*what, self.shop.water]):
            letter, dry = ("s", False) if isinstance(row, SolutionVersion) else ("m", row.stock_unit == "g")
            last = at == len(what)
            sent |= {f"in-{at}-what": f"{letter}{row.pk}", f"in-{at}-place": at + 1,
                     f"in-{at}-amount": "" if last else "10 g/L" if dry else "10 mL/L"}
            sent |= {f"in-{at}-make_up": "on"} if last else {}
        return sent | {f"solution-{name}": value for name, value in more.items()}

    def bath_typed(self, **more: Any) -> dict[str, Any]:
        named = (self.bottles[name] for name in ("Lunar salt", "Hartshorn", "Lye"))
        return self.typed("Silver bath", *named, **more)

    def steps(self) -> list[dict[str, Any]]:
        """The sound steps of a finish, with the bath that nobody ticked anything for."""
        steps = self.shop.steps()
        steps[2]["parts"] = [{"solution_version": self.bath, "mixed_for": "load"},
                             {"solution_version": self.shop.reducer, "mixed_for": "load"}]
        return steps

    def draft(self, steps: list[dict[str, Any]]) -> RecipeVersion:
        return builders.recipe(f"Draft {Finish.objects.count()}", steps)

    def one_step(self, *names: str) -> dict[str, Any]:
        """A step that cleans with some bottles, each a solution of its own."""
        made = [builders.solution(f"{name} wash", *self.doses(name)) for name in names]
        return {"kind": "clean", "how": "wipe", "dwell_minutes": Decimal(1),
                "parts": [{"solution_version": version, "mixed_for": "load"} for version in made]}

    def put_in_use(self, version: RecipeVersion, **sent: Any) -> str:
        """Press “put in use” with every caution ticked."""
        page = f"/finishes/{version.finish.code}/{version.number}/put-in-use/"
        return self.post(page, acknowledged=[rule.name for rule in RULES] + ["silver is sealed on the back"], **sent)

    def in_use(self, version: RecipeVersion) -> bool:
        return RecipeVersion.objects.in_use().filter(pk=version.pk).exists()

    def standing_run(self, safe: bool = False) -> Run:
        """A run with all recorded, whose silver stands."""
        Lot.objects.filter(pk=self.shop.lots[0].pk).update(state="usable", hold_reason="")
        return builders.worked(self.shop.run(), self.owner, safe=safe)

    def mix(self, run: Run) -> None:
        """Record that a run's silver part was mixed."""
        row = next(row for row in bench_state(run).mixes if row.is_ammoniacal)
        amounts = {str(one.number): str(one.amount) for one in row.mix.ingredients}
        note(run=run, by=self.owner, client_key=builders.key(), kind="mixed", subject=row.mix.key,
             content={"made": True, "amounts": amounts})

    def standing(self, run: Run) -> list[SilverClock]:
        return list(clocks_of(run).filter(made_safe=None))

    def trial(self) -> Any:
        return builders.trial(self.shop.recipe, self.owner)

    def start(self, trial: Any) -> SilverClock | None:
        return start_trial_clock(key=builders.key(), trial=trial, by=self.owner, subject="s3p1")

    def mixed_ahead(self, version: SolutionVersion, volume: int = 500) -> Lot:
        return mix_ahead(key=builders.key(), by=self.owner, version=version, volume_ml=Fraction(volume), day=today())

    def mix_named(self, run: Run, solution: str) -> Any:
        return next(row for row in bench_state(run).mixes if row.mix.solution == solution)

    def source(self, run: Run) -> str:
        return f"run {run.ticket.job.number}/{run.ticket.number}"
