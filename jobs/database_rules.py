"""What the database itself keeps of the jobs' rules: quotes and tickets stay as they were."""

from studio.database_rules import Refuse, append_only, changed, register

QUOTE, TICKET, RUN = "jobs_quote", "jobs_workticket", "jobs_run"

_OTHER_CURRENCY = f"EXISTS (SELECT 1 FROM {QUOTE} quoted WHERE quoted.currency <> NEW.currency)"
_CURRENCY_SENTENCE = "The currency is fixed once a price exists in it."

register(
    Refuse(name="currency_is_fixed_for_new_rates", table="studio_houserates", event="INSERT",
           condition=_OTHER_CURRENCY, sentence=_CURRENCY_SENTENCE),
    Refuse(name="currency_is_fixed", table="studio_houserates", event="UPDATE", condition=_OTHER_CURRENCY,
           sentence=_CURRENCY_SENTENCE),
    *append_only("jobs_runentry", "What was noted on the bench"),
    *append_only("jobs_paneresult", "A pane's result"),
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
        condition=changed("job_id", "number", "made_at", "made_by_id")
        + " OR CAST(OLD.plan AS TEXT) <> CAST(NEW.plan AS TEXT)"
        + " OR (OLD.paper_id IS NOT NULL AND " + changed("paper_id") + ")",
        sentence="A printed ticket is kept as it was: print a new one.",
    ),
    Refuse(
        name="run_finishes_once", table=RUN, event="UPDATE",
        condition="OLD.finished_at IS NOT NULL AND " + changed(
            "ticket_id", "finished_at", "finished_by_id", "posting_id", "made_safe_at", "made_safe_by_id"
        ),
        sentence="A run finishes once.",
    ),
    Refuse(
        name="nothing_is_noted_after_the_end", table="jobs_runentry", event="INSERT",
        condition=f"EXISTS (SELECT 1 FROM {RUN} run WHERE run.id = NEW.run_id AND run.finished_at IS NOT NULL)",
        sentence="This run is finished: nothing more can be noted on it.",
    ),
)
