"""Customers, orders, quotes and their private links, jobs, tickets and runs."""

from jobs.models.answers_read import AnswerRead
from jobs.models.customers import CustomerAddress, CustomerContact
from jobs.models.jobs import Job, JobAct, JobPhotograph, JobRows, SiteRecord
from jobs.models.links import CustomerAnswer, QuoteLink, QuoteMail
from jobs.models.money import MoneyRequest
from jobs.models.orders import BoughtIn, Customer, CustomerChoices, LetterPoint, Order, OrderLine
from jobs.models.quotes import Quote, QuoteRows
from jobs.models.runs import (
    KeptLeftover,
    KeptOffcut,
    PaneResult,
    RecallSettled,
    Run,
    RunClock,
    RunEntry,
    RunRows,
    WaitingRecord,
    WorkTicket,
)
from jobs.models.samples import SampleApproval, SampleRows, WentAhead
from jobs.models.swatches import SwatchBook
from jobs.models.week import JobInWeek, PinnedStretch, SharedMix, WeekEvent, WeekFeed, WeekPlan

__all__ = [
    "AnswerRead", "BoughtIn", "Customer", "CustomerAddress", "CustomerAnswer", "CustomerChoices", "CustomerContact",
    "Job", "JobAct", "JobInWeek", "JobPhotograph", "JobRows", "KeptLeftover", "KeptOffcut", "LetterPoint",
    "MoneyRequest", "Order", "OrderLine", "PaneResult", "PinnedStretch", "Quote", "QuoteLink", "QuoteMail",
    "QuoteRows", "RecallSettled", "Run", "RunClock", "RunEntry", "RunRows", "SampleApproval", "SampleRows",
    "SharedMix", "SiteRecord", "SwatchBook", "WaitingRecord", "WeekEvent", "WeekFeed", "WeekPlan", "WentAhead",
    "WorkTicket",
]
