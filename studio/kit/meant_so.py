"""What is unusual is asked once: a sentence beside the field, and a tick “It is right as I wrote it” for that value.

A form that asks mixes `AsksOnce` in and calls `ask` from its `clean`. The tick stands where a field's refusal stands
(`templates/house/field_error.html`), with JavaScript and without; it counts for the question and the value it was asked
of, so that another value is asked about again.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any

from django import forms

from studio.kit.errors import DaybookError
from studio.kit.pane_sizes import size_question
from studio.kit.units import Size, parse_size
from studio.kit.unusual_rates import rate_question


@dataclass(frozen=True, kw_only=True)
class Question:
    """A question beside a field: the name and value of its tick, and whether it is ticked."""

    sentence: str
    name: str
    value: str
    ticked: bool

    @property
    def id(self) -> str:
        return f"id_{self.name}"


class AsksOnce(forms.Form):
    """A form that asks about what is unusual, and takes it once somebody says that it is meant so."""

    def ask(self, field: str, sentence: str, of: str | None = None) -> bool:
        """Ask beside a field, unless it is ticked already; return whether it is meant so.

        of: what it is asked of, where that is not what the field holds (a file that was read into it).
        """
        form_field: Any = self.fields[field]
        name = self.add_prefix(f"{field}_meant_so")
        typed = str(self[field].value() or "") if of is None else of
        form_field.question = put(name, sentence, typed, self.data)
        if not form_field.question.ticked:
            self.add_error(field, forms.ValidationError(sentence, code="asked"))
        return bool(form_field.question.ticked)

    @property
    def meant_so(self) -> dict[str, str]:
        """Return the sentences that were answered with the tick, by field."""
        asked = {name: getattr(field, "question", None) for name, field in self.fields.items()}
        return {name: question.sentence for name, question in asked.items() if question is not None and question.ticked}


class AsksOfRates(AsksOnce):
    """A form with columns of the rates: what few studios have is asked about, unless it stood there before."""

    def ask_of_rates(self, values: dict[str, Any], currency: str = "",
                     meant_for: Mapping[str, str] | None = None) -> None:
        """Ask beside each unusual figure. meant_for: the columns of fields that are called otherwise."""
        for field, value in values.items():
            if field in self.fields and isinstance(value, Decimal | int) and not self._stood(field, value):
                question = rate_question((meant_for or {}).get(field, field), value, currency)
                if question:
                    self.ask(field, question)

    def _stood(self, field: str, value: Decimal | int) -> bool:
        try:
            return Decimal(str(self.get_initial_for_field(self.fields[field], field))) == value
        except InvalidOperation:
            return False


class AsksOfSizes(AsksOnce):
    """A form with sizes: what no pane has is refused, what few have is asked about, unless it stood there before."""

    def read_size(self, field: str, default_unit: str) -> Size | None:
        """Read a typed size; None, with its refusal or question beside the field, while it is not to be taken."""
        if not self.cleaned_data.get(field):
            return None
        try:
            size = parse_size(self.cleaned_data[field], default_unit)
            question = size_question(size)
        except DaybookError as refusal:
            self.add_error(field, str(refusal))
            return None
        if question and field in self.changed_data and not self.ask(field, question):
            return None
        return size


def put(name: str, sentence: str, typed: str, data: Any) -> Question:
    """Return a question of what was typed, with the tick as it was sent.

    name: of the tick, ending in _meant_so. For rows that are no form's fields; a form asks with `ask`.
    """
    value = _mark(sentence, typed)
    return Question(sentence=sentence, name=name, value=value, ticked=value in _sent(data, name))


def _sent(data: Any, name: str) -> list[str]:
    return list(data.getlist(name)) if hasattr(data, "getlist") else [str(data.get(name, ""))]


def _mark(sentence: str, typed: str) -> str:
    """Return a mark of a question and what it was asked of; a browser sends line ends its own way."""
    plain = f"{sentence}\n{typed}".replace("\r\n", "\n").strip()
    return hashlib.sha256(plain.encode()).hexdigest()[:16]
