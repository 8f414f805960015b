"""The feed of the week: a private link of which only the hash is kept, and the calendar that it answers with."""

from __future__ import annotations

from datetime import timedelta
from uuid import UUID

from django.db import transaction
from django.utils.crypto import salted_hmac

from jobs.models import WeekEvent, WeekFeed
from jobs.week.calendar_text import Event, written
from studio.house.clock import house_zone, now
from studio.house.models import House, Person
from studio.kit.errors import DaybookError
from studio.kit.private_tokens import hash_of
from studio.kit.roles import May

#: so far back the feed shows what was done
SHOWN_BACK = timedelta(days=14)


class NoFeed(DaybookError):
    """No link can be made, or there is none."""


@transaction.atomic
def make_link(person: Person, key: UUID) -> str:
    """Return what a new link carries, told this once; sent again with its key it is the same. Raises NoFeed."""
    token = salted_hmac("jobs.week.feed", f"{person.pk} {key}", algorithm="sha256").hexdigest()
    if WeekFeed.objects.filter(token_hash=hash_of(token), withdrawn_at=None).exists():
        return token
    if WeekFeed.objects.filter(token_hash=hash_of(token)).exists():
        raise NoFeed("That link was withdrawn: open the page again to make another.")
    if feed_of(person) is not None:
        raise NoFeed("You have a link already. Withdraw it first, then whoever had it sees nothing more.")
    WeekFeed.objects.create(person=person, token_hash=hash_of(token), made_at=now())
    return token


def feed_of(person: Person) -> WeekFeed | None:
    return WeekFeed.objects.filter(person=person, withdrawn_at=None).first()


def withdraw_link(person: Person) -> bool:
    return bool(WeekFeed.objects.filter(person=person, withdrawn_at=None).update(withdrawn_at=now()))


def whose_link(token: str) -> Person | None:
    """Return whose link it is; None for one that nobody has, that was withdrawn, or of somebody who left."""
    feed = WeekFeed.objects.select_related("person").filter(token_hash=hash_of(token), withdrawn_at=None).first()
    return feed.person if feed is not None and feed.person.is_active else None


def feed_text(person: Person) -> str:
    """Return the calendar as this person may read it: customers only for those who may see orders. Three queries."""
    rows = WeekEvent.objects.exclude(ends_at__lt=now() - SHOWN_BACK)
    names = person.may(May.ORDERS)
    if names:
        rows = rows.select_related("job__order__customer")
    house = House.objects.first()
    return written(f"The week, {house.name if house else 'the studio'}", [
        Event(
            uid=row.uid, sequence=row.sequence, stamp=row.changed_at, summary=row.summary,
            description=_with_order(row) if names else row.description, starts=row.starts_at, ends=row.ends_at,
            first_on=row.first_on, cancelled=row.cancelled_at is not None,
        ) for row in rows
    ], house_zone())


def _with_order(row: WeekEvent) -> str:
    if row.job is None:
        return row.description
    order = row.job.order
    return "\n".join(filter(None, [row.description, f"{order.title}, for {order.customer.name}"]))
