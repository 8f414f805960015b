from typing import Any

from django.apps import AppConfig


def _of_customer(row: Any) -> str:
    return f"Customer {row.customer_id}, a{'n address' if type(row).__name__ == 'CustomerAddress' else ' contact'}"


def _of_quote(row: Any) -> str:
    what = "letter with" if type(row).__name__ == "QuoteMail" else "private link of"
    return f"Customer {row.quote.order.customer_id}, {what} quote {row.quote.label}"


class JobsConfig(AppConfig):
    name = "jobs"
    label = "jobs"
    verbose_name = "The jobs"

    def ready(self) -> None:
        from jobs import database_rules  # noqa: F401  (the room's rules register themselves)
        from jobs.desk.papers_as_work import PAPERS
        from jobs.looking_back.recall import touched_by
        from jobs.models import Customer, CustomerAddress, CustomerContact, QuoteLink, QuoteMail
        from jobs.money.month_as_work import MONTH
        from jobs.quotes.quoting import prices_exist
        from jobs.week.longer_as_work import LONGER
        from jobs.work.clock import alarms
        from jobs.work.in_doubt import tickets_touched_by
        from jobs.work.late_clocks import start_clocks_of_runs
        from jobs.work.taken_lately import taken_on_the_bench
        from jobs.work.waste_sources import RUNS
        from studio.house.changes import watch
        from studio.house.frame import ALARMS
        from studio.house.long_work.kinds import register
        from studio.house.models import ChangeRecord
        from studio.house.saving import PRICES_EXIST
        from studio.stockroom.counts.counting import TAKEN_BEFORE_IT_IS_POSTED
        from studio.stockroom.lots.keeping import TOUCHED_BY_LOT
        from studio.stockroom.materials import AFTER_SAVING, TOUCHED_BY
        from studio.stockroom.waste.sources import SOURCES

        register(PAPERS, MONTH, LONGER)
        # what was changed of a customer is told, never its values: nothing has to be wiped where nothing can be
        own = ("name", "email", "phone", "address", "note")
        watch(Customer, kind=ChangeRecord.Kind.CUSTOMERS, subject=lambda row: f"Customer {row.pk}", columns=own,
              secret=own)
        for part, columns in ((CustomerContact, ("name", "role", "email", "phone", "note")),
                              (CustomerAddress, ("kind", "address", "note"))):
            watch(part, kind=ChangeRecord.Kind.CUSTOMERS, subject=_of_customer, columns=columns, secret=columns)
        # what went to a customer: never an address (a server's refusal names one), a letter's words or a token's hash
        watch(QuoteLink, kind=ChangeRecord.Kind.CUSTOMERS, subject=_of_quote, columns=("valid_until", "withdrawn_at"))
        watch(QuoteMail, kind=ChangeRecord.Kind.CUSTOMERS, subject=_of_quote, columns=("state",))
        if tickets_touched_by not in TOUCHED_BY:
            TOUCHED_BY.append(tickets_touched_by)
            AFTER_SAVING.insert(0, start_clocks_of_runs)  # runs are locked before lots, as where a run is finished
        if touched_by not in TOUCHED_BY_LOT:
            TOUCHED_BY_LOT.append(touched_by)
        if prices_exist not in PRICES_EXIST:
            PRICES_EXIST.append(prices_exist)
        if alarms not in ALARMS:
            ALARMS.append(alarms)
        if RUNS not in SOURCES:
            SOURCES.append(RUNS)
        if taken_on_the_bench not in TAKEN_BEFORE_IT_IS_POSTED:
            TAKEN_BEFORE_IT_IS_POSTED.append(taken_on_the_bench)
