"""What is unusual is asked once: a sentence beside the field, and a tick “It is meant so” for just that value.

A form that asks mixes `AsksOnce` in and calls `ask` from its `clean`. The tick stands where a field's refusal stands
(`templates/house/field_error.html`), with JavaScript and without; it counts for the question and the value it was asked
of, so that another value is asked about again.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import Any

from django import forms


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
        value = _mark(sentence, str(self[field].value() or "") if of is None else of)
        ticked = value in _sent(self.data, name)
        form_field.question = Question(sentence=sentence, name=name, value=value, ticked=ticked)
        if not ticked:
            self.add_error(field, forms.ValidationError(sentence, code="asked"))
        return ticked

    @property
    def meant_so(self) -> dict[str, str]:
        """Return the sentences that were answered with the tick, by field."""
        asked = {name: getattr(field, "question", None) for name, field in self.fields.items()}
        return {name: question.sentence for name, question in asked.items() if question is not None and question.ticked}


def _sent(data: Any, name: str) -> list[str]:
    return list(data.getlist(name)) if hasattr(data, "getlist") else [str(data.get(name, ""))]


def _mark(sentence: str, typed: str) -> str:
    """Return a mark of a question and what it was asked of; a browser sends line ends its own way."""
    plain = f"{sentence}\n{typed}".replace("\r\n", "\n").strip()
    return hashlib.sha256(plain.encode()).hexdigest()[:16]
