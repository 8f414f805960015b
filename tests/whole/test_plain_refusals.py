"""What is refused is refused in plain words that say what to do: no sentence of the framework reaches anybody."""

from __future__ import annotations

import pkgutil
import re
from collections.abc import Iterator
from decimal import Decimal
from importlib import import_module

import pytest
from django import forms
from django.apps import apps
from django.core.exceptions import ValidationError
from django.forms.formsets import BaseFormSet

import jobs
import recipes
import studio
from jobs.customers.forms import CustomerForm
from jobs.models import Customer
from studio.house.typed_fields import PercentField
from studio.stockroom.models import Material
from tests import builders

FRAMEWORK = re.compile(
    r"This field|^Enter |Select a valid|^Ensure |already exists|not a valid|value must|must be unique|No file was|"
    r"submitted|Upload a|is violated|Please ",
)


def every_form() -> Iterator[type[forms.BaseForm]]:
    for room in (studio, recipes, jobs):
        for module in pkgutil.walk_packages(room.__path__, f"{room.__name__}."):
            if ".migrations" not in module.name and not module.name.endswith(".wsgi"):
                import_module(module.name)
    waiting: list[type] = [forms.BaseForm]
    while waiting:
        form = waiting.pop()
        waiting += form.__subclasses__()
        if form.__module__.partition(".")[0] in ("studio", "recipes", "jobs"):
            yield form


def sentences(field: forms.Field) -> Iterator[str]:
    yield from map(str, field.error_messages.values())
    for validator in field.validators:
        yield str(getattr(validator, "message", ""))
        yield from map(str, getattr(validator, "messages", {}).values())


def test_no_field_of_any_form_keeps_a_sentence_of_the_framework():
    found = {form.__qualname__: [(name, sentence) for name, field in form.base_fields.items()
                                 for sentence in sentences(field) if FRAMEWORK.search(sentence)]
             for form in every_form()}
    assert len(found) > 60
    assert {form: wrong for form, wrong in found.items() if wrong} == {}


def test_no_field_of_any_model_and_no_rows_of_a_form_keep_one():
    kept = [(model.__name__, field.name, sentence) for model in apps.get_models()
            if model.__module__.partition(".")[0] in ("studio", "recipes", "jobs")
            for field in model._meta.get_fields() if hasattr(field, "error_messages") and field.editable
            for sentence in sentences(field) if FRAMEWORK.search(sentence)]
    assert kept == []
    assert not [one for one in BaseFormSet.default_error_messages.values() if FRAMEWORK.search(str(one))]


@pytest.mark.parametrize(("field", "typed", "said"), [
    (forms.CharField(), "", "Fill this in: it cannot stay empty."),
    (forms.IntegerField(max_value=500), "501", "At most 500."), (forms.IntegerField(min_value=2), "1", "At least 2."),
    (forms.IntegerField(), "2.5", "Write a whole number, for instance 12."),
    (forms.DecimalField(), "a lot", "Write a number, for instance 12 or 12.5."),
    (forms.CharField(max_length=3), "four", "At most 3 letters: there are 4."),
    (forms.ChoiceField(choices=[("g", "gram")]), "mL", "Choose one of the list."),
    (forms.EmailField(), "maud", "Write a whole e-mail address, for instance name@example.org."),
    (PercentField(), "120", "At most 100 %."), (PercentField(max_value=Decimal("0.5")), "60 %", "At most 50 %."),
])
def test_what_is_refused_says_what_to_do(field, typed, said):
    with pytest.raises(ValidationError) as refused:
        field.clean(typed)
    assert refused.value.messages == [said]


@pytest.mark.django_db
def test_a_name_taken_is_said_and_its_field_is_named_once(at_owner, rates):
    Customer.objects.create(name="Rose Lane")
    form = CustomerForm({"name": "Rose Lane"})
    assert form.errors["name"] == ["There is one already: choose another."]
    refused = at_owner.post("/stockroom/waste/", {"name": "", "meant_for": ""})
    assert "This field" not in refused.content.decode()


@pytest.mark.django_db
def test_two_fields_that_are_taken_together_are_said(owner, rates):
    silver = builders.material("Silver nitrate")
    twin = Material(name=silver.name)
    with pytest.raises(ValidationError) as refused:
        twin.validate_unique()
    assert "There is one already: choose another." in refused.value.messages
