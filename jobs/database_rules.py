"""What the database itself keeps of the jobs' rules: quotes and tickets stay as they were."""

from collections.abc import Iterable

from jobs.work import quote_states, states
from studio.kit.database_rules import Refuse, append_only, changed, register

QUOTE, TICKET, RUN = "jobs_quote", "jobs_workticket", "jobs_run"

_OTHER_CURRENCY = f"EXISTS (SELECT 1 FROM {QUOTE} quoted WHERE quoted.currency <> NEW.currency)"
_CURRENCY_SENTENCE = "The currency is fixed once a price exists in it."

register(
    Refuse(name="currency_is_fixed_for_new_rates", table="studio_houserates", event="INSERT",
           condition=_OTHER_CURRENCY, sentence=_CURRENCY_SENTENCE),
    Refuse(name="currency_is_fixed", table="studio_houserates", event="UPDATE", condition=_OTHER_CURRENCY,
           sentence=_CURRENCY_SENTENCE),
    *append_only("jobs_runentry", "What was recorded on the bench"),
    *append_only("jobs_paneresult", "A pane's result"),
    Refuse(
        name="waiting_record_is_settled_once", table="jobs_waitingrecord", event="UPDATE",
        condition="OLD.settled_at IS NOT NULL OR " + changed(
            "run_id", "client_key", "kind", "subject", "why", "done_at", "done_by", "at", "by_id")
        + " OR CAST(OLD.fields AS TEXT) <> CAST(NEW.fields AS TEXT)",
        sentence="What was sent from the bench stays as it was sent, and is settled once.",
    ),
    Refuse(name="waiting_record_is_never_deleted", table="jobs_waitingrecord", event="DELETE",
           sentence="What was sent from the bench is never deleted."),
    Refuse(
        name="quote_is_frozen", table=QUOTE, event="UPDATE",
        condition=changed("order_id", "number", "revision", "currency", "net", "tax", "total", "deposit", "made_at",
                          "made_by_id", "valid_until", "form_key")
        + " OR CAST(OLD.basis AS TEXT) <> CAST(NEW.basis AS TEXT)"
        + " OR CAST(OLD.plan AS TEXT) <> CAST(NEW.plan AS TEXT)"
        + " OR CAST(OLD.figures AS TEXT) <> CAST(NEW.figures AS TEXT)"
        + " OR CAST(OLD.wording AS TEXT) <> CAST(NEW.wording AS TEXT)",
        sentence="A quote is frozen: make a new revision.",
    ),
    Refuse(
        name="quote_has_a_plan", table=QUOTE, event="INSERT",
        condition="CAST(NEW.plan AS TEXT) NOT LIKE '{%\"format\"%'",
        sentence="A quote is frozen with its plan.",
    ),
    Refuse(
        name="quote_decided_once", table=QUOTE, event="UPDATE",
        condition="OLD.state IN ('accepted', 'declined') AND " + changed("state", "decided_at"),
        sentence="A quote is decided once.",
    ),
    Refuse(
        name="quote_paper_is_kept", table=QUOTE, event="UPDATE",
        condition="OLD.paper_id IS NOT NULL AND " + changed("paper_id"),
        sentence="The quote that was sent is kept as it was.",
    ),
    Refuse(name="quote_is_never_deleted", table=QUOTE, event="DELETE", sentence="A quote is never deleted."),
    Refuse(
        name="ticket_is_frozen", table=TICKET, event="UPDATE",
        condition=changed("job_id", "number", "made_at", "made_by_id", "replaces")
        + " OR CAST(OLD.plan AS TEXT) <> CAST(NEW.plan AS TEXT)"
        + " OR (OLD.paper_id IS NOT NULL AND " + changed("paper_id") + ")",
        sentence="A printed ticket is kept as it was: print a new one.",
    ),
    Refuse(
        name="run_finishes_once", table=RUN, event="UPDATE",
        condition="OLD.finished_at IS NOT NULL AND " + changed(
            "ticket_id", "finished_at", "finished_by_id", "posting_id", "made_safe_at", "made_safe_by_id", "stopped",
            "reservation_id",
        ),
        sentence="A run finishes once.",
    ),
    Refuse(
        name="nothing_is_noted_after_the_end", table="jobs_runentry", event="INSERT",
        condition=f"EXISTS (SELECT 1 FROM {RUN} run WHERE run.id = NEW.run_id AND run.finished_at IS NOT NULL)",
        sentence="This run is finished: nothing more can be recorded on it.",
    ),
)


def _off_the_table(steps: Iterable[tuple[str, str]]) -> str:
    """Return the condition that a row's state changes otherwise than a table of steps says."""
    among = " OR ".join(f"(OLD.state = '{at}' AND NEW.state = '{to}')" for at, to in steps)
    return f"OLD.state <> NEW.state AND NOT ({among})"


register(
    *append_only("jobs_runclock", "What the clock of a run is of"),
    Refuse(
        name="run_finishes_made_safe", table=RUN, event="UPDATE",
        condition=(
            "OLD.finished_at IS NULL AND NEW.finished_at IS NOT NULL AND EXISTS (SELECT 1 FROM jobs_runclock mine "
            "JOIN recipes_silverclock clock ON clock.id = mine.clock_id "
            "WHERE mine.run_id = NEW.id AND clock.made_safe_id IS NULL)"
        ),
        sentence="Ammoniacal silver of this run still stands: record that it was made safe first.",
    ),
    Refuse(
        name="no_clock_starts_after_the_end", table="jobs_runclock", event="INSERT",
        condition=f"EXISTS (SELECT 1 FROM {RUN} run WHERE run.id = NEW.run_id AND run.finished_at IS NOT NULL)",
        sentence="This run is finished: nothing is mixed for it.",
    ),
)

JOB, LEFTOVER, OFFCUT = "jobs_job", "jobs_keptleftover", "jobs_keptoffcut"


def _cancelled(ticket: str) -> str:
    return (f"EXISTS (SELECT 1 FROM {JOB} job JOIN {TICKET} ticket ON ticket.job_id = job.id "
            f"WHERE ticket.id = {ticket} AND job.state = '{states.CANCELLED}')")


_TICKET_OF_RUN = f"(SELECT run.ticket_id FROM {RUN} run WHERE run.id = NEW.run_id)"
_FINISHED_RUN = f"EXISTS (SELECT 1 FROM {RUN} run WHERE run.id = NEW.run_id AND run.finished_at IS NOT NULL)"
_KEPT_BEFORE = f"{LEFTOVER} earlier WHERE earlier.run_id = NEW.run_id AND earlier.mix = NEW.mix"
_OFF_THE_BENCH = f"OLD.state = '{states.ON_THE_BENCH}' AND NEW.state = '{states.CANCELLED}'"
_OUT = (f"EXISTS (SELECT 1 FROM {QUOTE} quote WHERE quote.order_id = NEW.order_id "
        "AND quote.state IN ('sent', 'accepted'))")

register(
    Refuse(name="job_moves_by_the_table", table=JOB, event="UPDATE", condition=_off_the_table(states.steps()),
           sentence="A job does not go from that state to this one."),
    Refuse(name="quote_moves_by_the_table", table=QUOTE, event="UPDATE",
           condition=f"OLD.state NOT IN ('accepted', 'declined') AND {_off_the_table(quote_states.steps())}",
           sentence="A quote does not go from that state to this one."),
    Refuse(name="quoted_job_has_a_quote_out", table=JOB, event="UPDATE",
           condition=f"NEW.state = '{states.QUOTED}' AND NOT {_OUT}",
           sentence="A job is quoted while a quote of it is sent or accepted."),
    Refuse(name="job_on_the_bench_is_cancelled_for_a_reason", table=JOB, event="UPDATE",
           condition=f"{_OFF_THE_BENCH} AND NEW.cancelled_because = ''",
           sentence="Say why a job on the bench is cancelled."),
    Refuse(
        name="job_on_the_bench_is_cancelled_made_safe", table=JOB, event="UPDATE",
        condition=(
            f"{_OFF_THE_BENCH} AND EXISTS (SELECT 1 FROM {TICKET} ticket JOIN {RUN} run ON run.ticket_id = ticket.id "
            "JOIN jobs_runclock mine ON mine.run_id = run.id "
            "JOIN recipes_silverclock clock ON clock.id = mine.clock_id "
            "WHERE ticket.job_id = NEW.id AND clock.made_safe_id IS NULL)"
        ),
        sentence="Ammoniacal silver of this job still stands: record that it was made safe first.",
    ),
    Refuse(name="why_a_job_was_cancelled_stays", table=JOB, event="UPDATE",
           condition=f"OLD.state = '{states.CANCELLED}' AND {changed('cancelled_because')}",
           sentence="Why a job was cancelled stays as it was written."),
    Refuse(name="no_ticket_for_a_cancelled_job", table=TICKET, event="INSERT",
           condition=f"EXISTS (SELECT 1 FROM {JOB} job WHERE job.id = NEW.job_id AND job.state = '{states.CANCELLED}')",
           sentence="This job is cancelled: no ticket is printed for it."),
    Refuse(name="nothing_is_noted_for_a_cancelled_job", table="jobs_runentry", event="INSERT",
           condition=_cancelled(_TICKET_OF_RUN), sentence="This job is cancelled: nothing more can be recorded on it."),
    Refuse(name="cancelled_job_finishes_no_run", table=RUN, event="UPDATE",
           condition=f"OLD.finished_at IS NULL AND NEW.finished_at IS NOT NULL AND {_cancelled('NEW.ticket_id')}",
           sentence="This job is cancelled: its run is not finished and nothing is deducted."),
    *append_only(LEFTOVER, "A kept leftover"),
    Refuse(name="leftover_comes_from_a_finished_run", table=LEFTOVER, event="INSERT",
           condition=f"NOT {_FINISHED_RUN}", sentence="A leftover is kept once its run is finished."),
    Refuse(
        name="no_more_is_left_over_than_was_mixed", table=LEFTOVER, event="INSERT",
        condition=f"NEW.volume_ml + (SELECT COALESCE(SUM(earlier.volume_ml), 0) FROM {_KEPT_BEFORE}) > NEW.mixed_ml",
        sentence="No more is kept of a mix than was mixed.",
    ),
    Refuse(name="cancelled_job_leaves_nothing", table=LEFTOVER, event="INSERT", condition=_cancelled(_TICKET_OF_RUN),
           sentence="This job is cancelled: nothing left of it is kept."),
    *append_only(OFFCUT, "Where a kept offcut came from"),
    Refuse(
        name="offcut_comes_from_cut_glass", table=OFFCUT, event="INSERT",
        condition=(f"NOT {_FINISHED_RUN} AND NOT EXISTS (SELECT 1 FROM jobs_runentry entry "
                   "WHERE entry.run_id = NEW.run_id AND entry.kind = 'glass' AND entry.subject = NEW.glass)"),
        sentence="An offcut is kept once its glass is cut.",
    ),
    Refuse(name="cancelled_job_leaves_no_offcut", table=OFFCUT, event="INSERT",
           condition=_cancelled(_TICKET_OF_RUN), sentence="This job is cancelled: nothing left of it is kept."),
)

_FRESH = f"{TICKET} fresh JOIN {TICKET} earlier ON earlier.job_id = fresh.job_id AND earlier.number = fresh.replaces"
register(
    *append_only("jobs_recallsettled", "What was decided of a held lot"),
    Refuse(
        name="ticket_replaces_an_open_one", table=TICKET, event="INSERT",
        condition=(
            f"NEW.replaces IS NOT NULL AND (NOT EXISTS (SELECT 1 FROM {TICKET} earlier "
            "WHERE earlier.job_id = NEW.job_id AND earlier.number = NEW.replaces) "
            f"OR EXISTS (SELECT 1 FROM {TICKET} earlier JOIN {RUN} run ON run.ticket_id = earlier.id "
            "WHERE earlier.job_id = NEW.job_id AND earlier.number = NEW.replaces AND run.finished_at IS NOT NULL))"
        ),
        sentence="A ticket is printed in place of an open one of its job.",
    ),
    Refuse(
        name="run_goes_on_with_the_new_ticket", table=RUN, event="UPDATE",
        condition=f"{changed('ticket_id')} AND NOT EXISTS (SELECT 1 FROM {_FRESH} "
                  "WHERE fresh.id = NEW.ticket_id AND earlier.id = OLD.ticket_id)",
        sentence="A run goes on only with the ticket that was printed in place of its own.",
    ),
    Refuse(
        name="replaced_ticket_has_no_run", table=RUN, event="INSERT",
        condition=f"EXISTS (SELECT 1 FROM {_FRESH} WHERE earlier.id = NEW.ticket_id)",
        sentence="Another ticket was printed in place of this one: work from that.",
    ),
)
