"""What of the jobs stands in a book: swatch book, customers, and jobs with their orders, quotes, tickets and runs."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from jobs.models import (
    AnswerRead,
    BoughtIn,
    Customer,
    CustomerAddress,
    CustomerAnswer,
    CustomerChoices,
    CustomerContact,
    Job,
    JobAct,
    JobInWeek,
    JobPhotograph,
    KeptLeftover,
    KeptOffcut,
    LetterPoint,
    MoneyRequest,
    Order,
    OrderLine,
    PaneResult,
    PinnedStretch,
    Quote,
    QuoteLink,
    QuoteMail,
    RecallSettled,
    Run,
    RunClock,
    RunEntry,
    SampleApproval,
    SharedMix,
    SiteRecord,
    SwatchBook,
    WaitingRecord,
    WentAhead,
    WorkTicket,
)
from jobs.quotes.fingerprint import fingerprint
from studio.kit.book import COUNT, Entry, Named, Section, Through, by
from studio.kit.pane_sizes import refuse_no_pane
from studio.stockroom.book import OFFCUTS, RESERVATION

_SWATCH_BOOK = Section(name="swatch_book", model=SwatchBook, single=True,
                       words="foreword small_size_text large_size_text glass edge shows_prices")
_CUSTOMERS = Section(
    name="customers", model=Customer, order=("name",), named=by("name"),
    words="name email phone address note forgotten_on papers_kept_until",
    lists=(Section(name="choices", model=CustomerChoices, parent="customer", words="""
        name finish glass shape route edge backing plan cut_price_per_m2 cut_minimum_each
    """),
        Section(name="contacts", model=CustomerContact, parent="customer", words="key name role email phone note"),
        Section(name="addresses", model=CustomerAddress, parent="customer", words="key kind address note")),
)
_LINES = Section(name="lines", model=OrderLine, parent="order", ready=refuse_no_pane, words="""
    number shape size_text width_mm=width:mm height_mm=height:mm area_m2=area:m2 perimeter_mm=perimeter:mm quantity
    recipe_version=recipe glass route cut_price_per_m2 cut_minimum_each own_price_each edge backing
    plan own_panes_to_start
    oversize_method match_group place opening joint_mm=joint:mm holes_text holes note offered
""")
#: an order file for `manage.py estimate` lists the same
BOUGHT_IN = Section(name="bought_in", model=BoughtIn, parent="order",
                    words="name cost line_number=line kind markup_share days due_on before")
_SITE_RECORDS = Section(name="site_records", model=SiteRecord, parent="order", ready=refuse_no_pane, words="""
    line_number=line width_low_mm=width_low:mm width_middle_mm=width_middle:mm width_high_mm=width_high:mm
    height_left_mm=height_left:mm height_middle_mm=height_middle:mm height_right_mm=height_right:mm
    diagonal_rising_mm=diagonal_rising:mm diagonal_falling_mm=diagonal_falling:mm access measured_by measured_on note
""")
_LETTER_POINTS = Section(name="letter_points", model=LetterPoint, parent="order",
                         words="key kind written said state settled_at settled_by")
def _marks_the_moved_quote(answer: CustomerAnswer, entry: Entry) -> None:
    """Take the mark of a quote anew where its days were moved: a demo is read as if it were written today."""
    if answer.at != datetime.fromisoformat(entry["at"]):
        answer.quote_sha256 = fingerprint(answer.link.quote)


_LINKS = Section(
    name="links", model=QuoteLink, parent="quote", order=("made_at", "key"), named=by("key"),
    words="key token_hash made_at made_by valid_until withdrawn_at withdrawn_by",
    # nothing is answered at a withdrawn link
    later=dict.fromkeys(("withdrawn_at", "withdrawn_by"), ""),
    lists=(Section(name="answer", model=CustomerAnswer, parent="link", single=True, ready=_marks_the_moved_quote,
                   words="accepted name said choice at quote_sha256",
                   lists=(Section(name="read", model=AnswerRead, parent="answer", single=True, words="at by"),)),),
)
_MAILS = Section(name="mails", model=QuoteMail, parent="quote", order=("written_at", "key"), words="""
    link key addresses subject text state written_at by sent_at why_not refused
""")
_QUOTES = Section(
    name="quotes", model=Quote, parent="order", order=("number", "revision"),
    named=Named({"number": ("number", COUNT), "revision": ("revision", COUNT)}),
    words="""
        number revision state basis plan figures wording choices currency net tax total deposit made_at made_by
        valid_until sent_at decided_at paper form_key
    """,
    lists=(_LINKS, _MAILS),
)
_ORDER = Section(
    name="order", model=Order, lists=(_LINES, BOUGHT_IN, _SITE_RECORDS, _LETTER_POINTS, _QUOTES),
    words="""
        customer title due_on discount_share discount_amount discount_reason note letter entered_at entered_by
        form_key
    """,
)
_RUN = Section(
    name="run", model=Run, parent="ticket", single=True,
    named=Named({"job": ("ticket.job.number", COUNT), "ticket": ("ticket.number", COUNT)}, ("ticket__job",)),
    inside=(("reservation", RESERVATION),),
    words="opened_at finished_at finished_by made_safe_at made_safe_by posting stopped",
    # nothing is noted on a run after its end
    later=dict.fromkeys(("finished_at", "finished_by", "made_safe_at", "made_safe_by", "posting", "stopped"), ""),
    lists=(
        Section(name="entries", model=RunEntry, parent="run", words="""
            client_key kind subject content device_at at by
        """),
        Section(name="clocks", model=RunClock, parent="run", words="clock", bare=True),
        Section(name="pane_results", model=PaneResult, parent="run", words="""
            label line_number recipe_version=recipe width_mm=width:mm height_mm=height:mm area_m2=area:m2 good attempts
            spoilt_because
        """),
        Section(name="waiting", model=WaitingRecord, parent="run", words="""
            client_key kind subject fields why done_at done_by at by settled_at settled_by settled_because
        """),
        # a leftover is kept of a finished run
        Section(name="kept_leftovers", model=KeptLeftover, parent="run", after="jobs",
                words="lot mix volume_ml=volume:mL mixed_ml=mixed:mL"),
    ),
)


def _open_while_read(job: Job, entry: Entry) -> None:
    """Let a cancelled job be booked while what hangs on it is read: to a cancelled one the database adds nothing."""
    if job.state == Job.State.CANCELLED and entry.get("tickets"):
        job.state = Job.State.BOOKED


def _cancelled_at_last(job: Job, entry: Entry) -> None:
    if job.state != entry.get("state", job.state):
        job.state = entry["state"]
        job.save(update_fields=["state"])


_JOBS = Section(
    name="jobs", model=Job, ready=_open_while_read, last=_cancelled_at_last,
    order=("number",), named=by("number", COUNT),
    words="""
        number state quote=booked_quote due_on sample_approved deposit_noted waived_because booked_at cancelled_because
    """,
    inside=(("order", _ORDER), ("reservation", RESERVATION)),
    lists=(
        Section(name="acts", model=JobAct, parent="job", named=by("key"),
                words="key kind at by on note quote amount how undoes"),
        # before the tickets: a ticket is printed once its samples are in
        Section(name="samples", model=SampleApproval, parent="job", words="""
            key recipe_version=recipe quote trial fee sent_on kept_where half_with variation front back asked_at
            approved_on approved_by how approved_at act withdrawn_at
        """, lists=(Section(name="read", model=AnswerRead, parent="sample", single=True, words="at by"),)),
        Section(name="went_ahead", model=WentAhead, parent="job", words="key recipe_version=recipe because at by"),
        Section(name="tickets", model=WorkTicket, parent="job", order=("number",), lists=(_RUN,),
                words="number plan made_at made_by paper replaces"),
        Section(name="photographs", model=JobPhotograph, parent="job", words="key kind caption at by picture"),
        Section(name="in_week", model=JobInWeek, parent="job", single=True, words="weight not_before because"),
        Section(name="pins", model=PinnedStretch, parent="job", words="key load stretch on at bench who"),
    ),
)
_OFFCUTS = replace(OFFCUTS, lists=(
    Section(name="left_by", model=KeptOffcut, parent="offcut", single=True, words="run glass sheet piece"),
), through=(
    Through("reservation", "promised_to_job", Job, back="job", forth="reservation"),
    Through("reservation", "promised_to_run", Run, back="further_run", forth="reservation"),
))
_RECALLS = Section(name="recalls_settled", model=RecallSettled, order=("pk",),
                   words="key lot run trial part decided at by")
#: one series of numbers for the whole studio: read in their order, each after what it takes back
_MONEY_REQUESTS = Section(
    name="money_requests", model=MoneyRequest, order=("number",), named=by("number", COUNT),
    words="key number prefix job quote kind credits asked_on due_on currency net tax total content note at by paper",
)
_SHARED_MIXES = Section(name="shared_mixes", model=SharedMix, order=("pk",), words="""
    key job quote mix load share_ml=share:mL other_job other_quote other_mix other_load other_share_ml=other_share:mL
    called volume_ml=volume:mL minutes_saved=time_saved:min ml_saved=volume_saved:mL silver_saved_g=silver_saved:g
    agreed_at withdrawn_at withdrawn_because
""")
SECTIONS = (_SWATCH_BOOK, _CUSTOMERS, _JOBS, _SHARED_MIXES, _MONEY_REQUESTS, _OFFCUTS, _RECALLS)
