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
        + " OR CAST(OLD.wording AS TEXT) <> CAST(NEW.wording AS TEXT)"
        + " OR CAST(OLD.choices AS TEXT) <> CAST(NEW.choices AS TEXT)",
        sentence="A quote is frozen: make a new revision.",
    ),
    Refuse(
        name="quote_has_a_plan", table=QUOTE, event="INSERT",
        condition="CAST(NEW.plan AS TEXT) NOT LIKE '{%\"format\"%'",
        sentence="A quote is frozen with its plan.",
    ),
    Refuse(
        name="quote_decided_once", table=QUOTE, event="UPDATE",
        condition="OLD.state IN ('accepted', 'declined', 'replaced') AND NEW.state IN ('accepted', 'declined', "
                  "'replaced') AND " + changed("decided_at"),
        sentence="When a quote was answered stays as it was.",
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
            "ticket_id", "finished_at", "finished_by_id", "made_safe_at", "made_safe_by_id", "stopped",
            "reservation_id",
        ),
        sentence="A run finishes once.",
    ),
    Refuse(
        name="deduction_is_replaced_once_it_is_reversed", table=RUN, event="UPDATE",
        condition="OLD.posting_id IS NOT NULL AND " + changed("posting_id") + " AND (NEW.posting_id IS NULL OR EXISTS ("
        "SELECT 1 FROM inventory_stockmovement first WHERE first.posting_id = OLD.posting_id AND NOT EXISTS ("
        "SELECT 1 FROM inventory_stockmovement back WHERE back.reverses_id = first.id)))",
        sentence="What a run deducted is corrected only after every amount of it went back.",
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
#: what stands in place of words that were wiped
FORGOTTEN = "(forgotten)"


def _reworded(column: str, job: str = "NEW.job_id") -> str:
    """Return the condition that words are changed, otherwise than wiped for a customer who was forgotten."""
    forgotten = (f"EXISTS (SELECT 1 FROM {JOB} mine JOIN jobs_order placed ON placed.id = mine.order_id "
                 "JOIN jobs_customer customer ON customer.id = placed.customer_id "
                 f"WHERE mine.id = {job} AND customer.forgotten_on IS NOT NULL)")
    return f"({changed(column)} AND NOT (NEW.{column} = '{FORGOTTEN}' AND {forgotten}))"



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
           condition=_off_the_table(quote_states.steps()),
           sentence="A quote does not go from that state to this one."),
    Refuse(name="quoted_job_has_a_quote_out", table=JOB, event="UPDATE",
           condition=f"NEW.state = '{states.QUOTED}' AND NOT {_OUT}",
           sentence="A job is quoted while a quote of it is sent or accepted."),
    # what came in may be undone later: the rule is of the booking, not of the booked job
    Refuse(name="booked_with_sample_and_deposit", table=JOB, event="UPDATE",
           condition="OLD.booked_at IS NULL AND NEW.booked_at IS NOT NULL AND NEW.waived_because = '' "
                     "AND NOT (NEW.sample_approved AND NEW.deposit_noted)",
           sentence="Tick that sample and deposit are in, or say why not."),
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
           condition=f"OLD.state = '{states.CANCELLED}' AND NEW.state = '{states.CANCELLED}' "
                     f"AND {_reworded('cancelled_because', 'NEW.id')}",
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

_BOOKED = "job.state IN ('" + "', '".join(sorted(states.WAS_BOOKED)) + "')"
_CHANGED_SINCE = (
    f"EXISTS (SELECT 1 FROM {RUN} run JOIN {TICKET} ticket ON ticket.id = run.ticket_id "
    f"JOIN {JOB} job ON job.id = ticket.job_id JOIN {QUOTE} quote ON quote.id = job.quote_id "
    "WHERE run.id = NEW.run_id AND quote.made_at > ticket.made_at)"
)
register(
    *(rule for rule in append_only("jobs_jobact", "What was done to a job")
      if rule.name != "jobs_jobact_never_edited"),
    # names in the words of a forgotten customer's acts are wiped, and nothing else
    Refuse(name="jobs_jobact_never_edited", table="jobs_jobact", event="UPDATE",
           sentence="What was done to a job is never edited.",
           condition=changed("key", "job_id", "kind", "at", "by_id", '"on"', "quote_id", "amount", "undoes_id")
           + f" OR {_reworded('note')}"),
    Refuse(
        name="act_undoes_one_of_its_job", table="jobs_jobact", event="INSERT",
        condition=("NEW.undoes_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM jobs_jobact first "
                   "WHERE first.id = NEW.undoes_id AND first.job_id = NEW.job_id AND first.kind <> 'undone')"),
        sentence="What is undone was done to the same job.",
    ),
    Refuse(
        name="booked_quote_stays_accepted", table=QUOTE, event="UPDATE",
        # before the bench a revision, which keeps what was agreed before it, may wait for the customer again
        condition=("OLD.state = 'accepted' AND NEW.state IN ('draft', 'sent', 'declined') AND EXISTS ("
                   f"SELECT 1 FROM {JOB} job WHERE job.quote_id = OLD.id AND {_BOOKED} AND NOT (NEW.state = 'sent' "
                   f"AND job.state = '{states.BOOKED}' AND CAST(OLD.wording AS TEXT) LIKE '%\"agreed\": {{%'))"),
        sentence="A job is booked with this quote: undo the booking first.",
    ),
    Refuse(
        name="older_quote_is_not_accepted", table=QUOTE, event="UPDATE",
        condition=("OLD.state IN ('draft', 'sent') AND NEW.state = 'accepted' AND EXISTS ("
                   f"SELECT 1 FROM {QUOTE} newer WHERE newer.order_id = NEW.order_id "
                   "AND newer.revision > NEW.revision AND newer.state IN ('sent', 'accepted'))"),
        sentence="A newer revision of this quote is sent or accepted: accept that one.",
    ),
    Refuse(
        name="cancelled_on_the_bench_stays_cancelled", table=JOB, event="UPDATE",
        condition=(f"OLD.state = '{states.CANCELLED}' AND NEW.state <> '{states.CANCELLED}' AND EXISTS ("
                   f"SELECT 1 FROM {TICKET} ticket JOIN {RUN} run ON run.ticket_id = ticket.id "
                   "WHERE ticket.job_id = NEW.id AND (run.stopped OR (run.finished_at IS NULL "
                   "AND (run.reservation_id IS NOT NULL "
                   "OR EXISTS (SELECT 1 FROM jobs_runentry entry WHERE entry.run_id = run.id)))))"),
        sentence="A job that was cancelled with work on the bench stays cancelled.",
    ),
    Refuse(
        name="booking_is_undone_before_a_ticket", table=JOB, event="UPDATE",
        condition=(f"OLD.state = '{states.BOOKED}' AND NEW.state = '{states.QUOTED}' AND EXISTS ("
                   f"SELECT 1 FROM {TICKET} ticket WHERE ticket.job_id = NEW.id)"),
        sentence="A ticket of this job is printed: its booking is not undone.",
    ),
    Refuse(
        name="nothing_is_noted_on_a_ticket_of_another_order", table="jobs_runentry", event="INSERT",
        condition=_CHANGED_SINCE,
        sentence="The order was changed after this ticket was printed: print it anew.",
    ),
)

SAMPLE, WENT_AHEAD = "jobs_sampleapproval", "jobs_wentahead"
register(
    *(rule for rule in append_only(WENT_AHEAD, "Why a ticket went ahead")
      if rule.name != f"{WENT_AHEAD}_never_edited"),
    Refuse(name=f"{WENT_AHEAD}_never_edited", table=WENT_AHEAD, event="UPDATE",
           sentence="Why a ticket went ahead is never edited.",
           condition=changed("key", "job_id", "recipe_version_id", "at", "by_id") + f" OR {_reworded('because')}"),
    Refuse(
        name="approved_sample_stays", table=SAMPLE, event="UPDATE",
        # of a forgotten customer, who approved it and who has its half are wiped
        condition="OLD.approved_at IS NOT NULL AND (" + changed(
            "key", "job_id", "recipe_version_id", "quote_id", "trial_id", "fee", "sent_on", "kept_where", "variation",
            "front_id", "back_id", "asked_at", "approved_on", "how", "approved_at", "act_id")
        + f" OR {_reworded('approved_by')} OR {_reworded('half_with')}"
        + f" OR (OLD.withdrawn_at IS NOT NULL AND {changed('withdrawn_at')}))",
        sentence="An approved sample stays as it was approved.",
    ),
    Refuse(name="approved_sample_is_never_deleted", table=SAMPLE, event="DELETE",
           condition="OLD.approved_at IS NOT NULL", sentence="An approved sample is never deleted."),
    Refuse(
        name="ticket_waits_for_its_samples", table=TICKET, event="INSERT",
        # of the order as it stands: one printed before a revision was of another
        condition=(
            f"EXISTS (SELECT 1 FROM {JOB} job JOIN {QUOTE} quote ON quote.id = job.quote_id "
            "JOIN jobs_orderline line ON line.order_id = job.order_id "
            "WHERE job.id = NEW.job_id AND quote.made_at <= NEW.made_at "
            f"AND NOT EXISTS (SELECT 1 FROM {SAMPLE} sample WHERE sample.job_id = job.id "
            "AND sample.recipe_version_id = line.recipe_version_id AND sample.approved_at <= NEW.made_at "
            "AND (sample.withdrawn_at IS NULL OR sample.withdrawn_at > NEW.made_at)) "
            f"AND NOT EXISTS (SELECT 1 FROM {WENT_AHEAD} said WHERE said.job_id = job.id "
            "AND said.recipe_version_id = line.recipe_version_id AND said.at <= NEW.made_at))"
        ),
        sentence="The sample of a finish of this job is not approved: no ticket is printed before.",
    ),
)

REQUEST = "jobs_moneyrequest"
_THERE = f"EXISTS (SELECT 1 FROM {REQUEST} old_row WHERE old_row.id = NEW.id OR old_row.key = NEW.key)"
_TAKEN_BACK = f"{REQUEST} first WHERE first.id = NEW.credits_id"
register(
    Refuse(
        name="money_request_is_frozen", table=REQUEST, event="UPDATE",
        condition=changed("key", "number", "prefix", "job_id", "quote_id", "kind", "credits_id", "asked_on", "due_on",
                          "currency", "net", "tax", "total", "note", "at", "by_id")
        + " OR CAST(OLD.content AS TEXT) <> CAST(NEW.content AS TEXT)"
        + " OR (OLD.paper_id IS NOT NULL AND " + changed("paper_id") + ")",
        sentence="A request for money stays as it was made: take it back by a credit.",
    ),
    Refuse(name="money_request_is_never_deleted", table=REQUEST, event="DELETE",
           sentence="A request for money is never deleted: take it back by a credit."),
    # INSERT OR REPLACE deletes without firing delete triggers on SQLite
    Refuse(name="money_request_is_never_replaced", table=REQUEST, event="INSERT",
           condition=_THERE, sentence="A request for money is never replaced."),
    Refuse(name="money_requests_have_no_gap", table=REQUEST, event="INSERT",
           condition=f"NEW.number <> (SELECT MAX(last.number) + 1 FROM {REQUEST} last) AND NOT {_THERE}",
           sentence="Requests for money are numbered one after another, without a gap."),
    Refuse(name="money_request_adds_up", table=REQUEST, event="INSERT", condition="NEW.net + NEW.tax <> NEW.total",
           sentence="Net and tax of a request for money are its total."),
    Refuse(
        name="credit_takes_back_of_its_job", table=REQUEST, event="INSERT",
        condition=f"NEW.credits_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM {_TAKEN_BACK} "
                  "AND first.job_id = NEW.job_id AND first.kind <> 'credit' AND first.currency = NEW.currency)",
        sentence="A credit takes back a request of the same job.",
    ),
    Refuse(
        name="credit_takes_back_no_more_than_was_asked", table=REQUEST, event="INSERT",
        condition=f"NEW.credits_id IS NOT NULL AND NEW.total + (SELECT first.total FROM {_TAKEN_BACK}) "
                  f"+ (SELECT COALESCE(SUM(earlier.total), 0) FROM {REQUEST} earlier "
                  "WHERE earlier.credits_id = NEW.credits_id) < 0",
        sentence="No more of a request is taken back than was asked.",
    ),
    Refuse(
        name="money_request_rests_on_a_quote_of_its_job", table=REQUEST, event="INSERT",
        condition=f"NOT EXISTS (SELECT 1 FROM {JOB} job JOIN {QUOTE} quote ON quote.order_id = job.order_id "
                  "WHERE job.id = NEW.job_id AND quote.id = NEW.quote_id AND quote.currency = NEW.currency)",
        sentence="A request for money rests on a quote of its job.",
    ),
)

LINK, MAIL, ANSWER = "jobs_quotelink", "jobs_quotemail", "jobs_customeranswer"
_JOB_OF_LINK = (f"(SELECT its_job.id FROM {JOB} its_job JOIN {QUOTE} its ON its.order_id = its_job.order_id "
                f"JOIN {LINK} opens ON opens.quote_id = its.id WHERE opens.id = NEW.link_id)")
register(
    Refuse(
        name="link_is_only_withdrawn", table=LINK, event="UPDATE",
        condition=changed("quote_id", "key", "token_hash", "made_at", "made_by_id", "valid_until")
        + " OR (OLD.withdrawn_at IS NOT NULL AND " + changed("withdrawn_at", "withdrawn_by_id") + ")",
        sentence="A private link is only withdrawn, once: make a new one.",
    ),
    Refuse(name="link_is_never_deleted", table=LINK, event="DELETE", sentence="A private link is never deleted."),
    *(rule for rule in append_only(ANSWER, "What a customer answered") if rule.name != f"{ANSWER}_never_edited"),
    Refuse(name=f"{ANSWER}_never_edited", table=ANSWER, event="UPDATE",
           sentence="What a customer answered is never edited.",
           # of a forgotten customer, who answered and what was said with it are wiped
           condition=changed("link_id", "accepted", "choice", "at", "quote_sha256")
           + f" OR {_reworded('name', _JOB_OF_LINK)} OR {_reworded('said', _JOB_OF_LINK)}"),
    Refuse(
        name="nobody_answers_at_a_withdrawn_link", table=ANSWER, event="INSERT",
        condition=f"EXISTS (SELECT 1 FROM {LINK} link WHERE link.id = NEW.link_id AND link.withdrawn_at IS NOT NULL)",
        sentence="This link is withdrawn: nothing is answered there.",
    ),
    Refuse(
        name="mail_stays_as_it_was_sent", table=MAIL, event="UPDATE",
        # of a forgotten customer, where it went and what it said are wiped
        condition=changed("quote_id", "link_id", "key", "written_at", "by_id")
        + f" OR (OLD.state <> 'written' AND ({changed('state', 'sent_at')} OR {_reworded('why_not', _JOB_OF_LINK)}"
          f" OR {_reworded('refused', _JOB_OF_LINK)}))"
        + " OR " + " OR ".join(_reworded(column, _JOB_OF_LINK) for column in ("addresses", "subject", "text")),
        sentence="A letter stays as it was sent.",
    ),
    Refuse(name="mail_is_never_deleted", table=MAIL, event="DELETE", sentence="A sent letter is never deleted."),
)

SHARED = "jobs_sharedmix"
register(
    *append_only("jobs_answerread", "That an answer was read"),
    *(rule for rule in append_only(SHARED, "A mix that two jobs share") if rule.name != f"{SHARED}_never_edited"),
    Refuse(
        name="shared_mix_is_only_withdrawn", table=SHARED, event="UPDATE",
        condition=changed(
            "key", "job_id", "quote_id", "mix", "load", "share_ml", "other_job_id", "other_quote_id", "other_mix",
            "other_load", "other_share_ml", "called", "volume_ml", "minutes_saved", "ml_saved", "silver_saved_g",
            "agreed_at")
        + " OR (OLD.withdrawn_at IS NOT NULL AND " + changed("withdrawn_at", "withdrawn_because") + ")",
        sentence="What two jobs share of a mix stays as it was agreed, and is withdrawn once.",
    ),
    Refuse(name="shares_are_the_whole_mix", table=SHARED, event="INSERT",
           condition="NEW.share_ml + NEW.other_share_ml <> NEW.volume_ml",
           sentence="The shares of two jobs are together the mix that they share."),
)
