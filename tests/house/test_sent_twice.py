"""Of a form that is sent twice at one moment the second answer says what the first said: it alone is shown."""

from __future__ import annotations

from types import SimpleNamespace

from django.contrib.messages import get_messages

from studio.house import sent_twice
from studio.stockroom.models import Purchase
from tests import builders


def test_the_second_answer_brings_the_message_of_the_first(at_owner, owner, rates, monkeypatch):
    # given somebody who clicks twice: both forms came before the first was answered, and its answer is not shown
    shop = builders.Workshop(owner)
    came = iter([1.0, 10.0, 2.0, 11.0, 20.0])
    monkeypatch.setattr(sent_twice, "time", SimpleNamespace(monotonic=lambda: next(came)))
    form = {"material": shop.silver.pk, "amount": "50 g", "key": builders.key()}
    first = at_owner.post("/stockroom/buying/ordered/", form)
    del at_owner.cookies["messages"]
    # when the second is answered
    second = at_owner.post("/stockroom/buying/ordered/", form)
    # then it leads to the same page and says the same, once
    assert (first.status_code, first.url) == (second.status_code, second.url) == (302, "/stockroom/buying/")
    said = [str(message) for message in get_messages(second.wsgi_request)]
    assert said == [f"{shop.silver} is awaited."]
    assert Purchase.objects.count() == 1
    # and the page that is shown then says it once
    third = at_owner.get(second.url)
    assert third.content.decode().count("is awaited.") == 1
