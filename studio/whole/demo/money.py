"""Three months of the demo's money: deposits and balances asked for and paid, one late, one taken back by a credit."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from studio.whole.demo.days import next_key, on

#: job's title, days before, what is done: asked for, paid (how, what share of what is open), or taken back (why)
LIFE: tuple[tuple[str, int, str, str], ...] = (
    ("Six panels behind the bar", 94, "deposit", ""),
    ("Six panels behind the bar", 78, "balance", ""),
    ("Round mirror for a hall", 68, "deposit", ""),
    ("Six panels behind the bar", 66, "paid", "transfer"),
    ("Round mirror for a hall", 52, "balance", ""),
    ("Overmantel, two wings", 42, "deposit", ""),
    ("Round mirror for a hall", 40, "part paid", "card"),
    ("Foyer panels", 28, "deposit", ""),
    ("Overmantel, two wings", 27, "balance", ""),
    ("Overmantel, two wings", 26, "taken back", "Asked for before it was finished."),
    ("Wardrobe doors", 16, "deposit", ""),
    ("Tray bases", 10, "deposit", ""),
    ("Overmantel, two wings", 4, "balance", ""),
    ("Tray bases", 2, "paid", "cheque"),
)


def ask_and_take_in(owner: Any) -> None:
    """Live through the money, by the same services the app uses."""
    from jobs.models import Job
    from jobs.money.requests import ask_balance, ask_deposit, take_back, to_ask
    from jobs.money.views import money_of_now
    from jobs.work.coming_in import take_in

    for title, days, what, said in LIFE:
        job = Job.objects.get(order__title=title)
        asks = to_ask(job)
        assert asks is not None
        with on(days, 16):
            if what == "deposit":
                ask_deposit(job=job, by=owner, key=next_key(), amount=asks.quote.deposit)
            elif what == "balance":
                ask_balance(job=job, by=owner, key=next_key(), note=said)
            elif what == "taken back":
                take_back(request=asks.before[-1], by=owner, key=next_key(), why=said)
            else:
                owed = money_of_now(job).open_of_requests
                take_in(job=job, by=owner, key=next_key(), how=said,
                        amount=owed if what == "paid" else (owed / 2).quantize(Decimal(1)))
