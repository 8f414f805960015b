"""What the framework's own checks of a form say, in the words of the bench: each says what to do.

A field's own sentence (`error_messages`) goes before these. None names its field: beside it stands its label, and in
the list above a form its link. `speak_plainly` runs before any form or model is made: `studio.apps` calls it.
"""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth.validators import UnicodeUsernameValidator
from django.core import validators
from django.core.exceptions import ValidationError
from django.db import models
from django.forms.formsets import BaseFormSet
from django.utils.text import get_text_list

from studio.kit.typed_numbers import NUMBER, WHOLE

TAKEN = "There is one already: choose another."
CHOOSE = "Choose one of the list."
MOMENT = "Write a day and a time, for instance 1 Feb 14:30."
_FILE = "Choose the file and send it again."

#: by the field that says it; a field below another keeps what it does not say itself
_FIELDS: tuple[tuple[type[forms.Field], dict[str, str]], ...] = (
    (forms.Field, {"required": "Fill this in: it cannot stay empty."}),
    (forms.BooleanField, {"required": "Tick this to go on."}),
    (forms.IntegerField, {"invalid": WHOLE}),
    (forms.FloatField, {"invalid": NUMBER}),
    (forms.DecimalField, {"invalid": NUMBER}),
    (forms.DateField, {"required": "Say which day.", "invalid": "Write a day, for instance 1 Feb 2027."}),
    (forms.TimeField, {"required": "Say what time.", "invalid": "Write the time, for instance 10:15."}),
    (forms.DateTimeField, {"required": "Say which day and what time.", "invalid": MOMENT}),
    (forms.DurationField, {"invalid": "Write how long, for instance 0:45:00.", "overflow": "That is too long."}),
    (forms.SplitDateTimeField, {"invalid_date": "Write a day, for instance 1 Feb 2027.",
                                "invalid_time": "Write the time, for instance 10:15."}),
    (forms.FileField, {"required": "Choose a file.", "invalid": _FILE, "missing": _FILE,
                       "empty": "That file is empty: choose another.",
                       "max_length": "That file's name is too long: %(max)d letters at most.",
                       "contradiction": "Either choose a file or remove the one that is there, not both."}),
    (forms.ImageField, {"invalid_image": "That file is no picture: send a PNG or JPEG."}),
    (forms.URLField, {"invalid": "Write a whole web address, for instance https://example.org."}),
    (forms.ChoiceField, {"required": CHOOSE, "invalid_choice": CHOOSE}),
    (forms.MultipleChoiceField, {"required": "Choose at least one of the list.", "invalid_choice": CHOOSE,
                                 "invalid_list": CHOOSE}),
    (forms.ModelChoiceField, {"required": CHOOSE, "invalid_choice": CHOOSE}),
    (forms.ModelMultipleChoiceField, {"required": "Choose at least one of the list.", "invalid_choice": CHOOSE,
                                      "invalid_list": CHOOSE, "invalid_pk_value": CHOOSE}),
    (forms.MultiValueField, {"invalid": "Fill in each part.", "incomplete": "Fill in each part."}),
    (forms.UUIDField, {"invalid": "This page is too old: load it again."}),
    (forms.JSONField, {"invalid": "That cannot be read."}),
)
_MODEL_FIELD = {"invalid_choice": CHOOSE, "null": "Fill this in: it cannot stay empty.",
                "blank": "Fill this in: it cannot stay empty.", "unique": TAKEN,
                "unique_for_date": "There is one of that day already: choose another."}
_MODEL_FIELDS: tuple[tuple[type[models.Field[Any, Any]], dict[str, str]], ...] = (
    (models.Field, _MODEL_FIELD),
    (models.BooleanField, {"invalid": "Say yes or no.", "invalid_nullable": "Say yes or no."}),
    (models.DateField, {"invalid": "Write a day, for instance 2027-02-01.", "invalid_date": "There is no such day."}),
    (models.DateTimeField, {"invalid": MOMENT, "invalid_date": "There is no such day.",
                            "invalid_datetime": "There is no such day or time."}),
    (models.TimeField, {"invalid": "Write the time, for instance 10:15.", "invalid_time": "There is no such time."}),
    (models.DecimalField, {"invalid": NUMBER}),
    (models.FloatField, {"invalid": NUMBER}),
    (models.IntegerField, {"invalid": WHOLE}),
    (models.UUIDField, {"invalid": "This page is too old: load it again."}),
    (models.ForeignKey, {"invalid": CHOOSE}),
)
#: %(limit_value)s is the limit
_VALIDATORS: tuple[tuple[Any, str], ...] = (
    (validators.RegexValidator, "Write it as the line below the field says."),
    (validators.EmailValidator, "Write a whole e-mail address, for instance name@example.org."),
    (validators.URLValidator, "Write a whole web address, for instance https://example.org."),
    (validators.MaxValueValidator, "At most %(limit_value)s."),
    (validators.MinValueValidator, "At least %(limit_value)s."),
    (validators.StepValueValidator, "In steps of %(limit_value)s."),
    (validators.MinLengthValidator, "At least %(limit_value)d letters: there are %(show_value)d."),
    (validators.MaxLengthValidator, "At most %(limit_value)d letters: there are %(show_value)d."),
    (validators.ProhibitNullCharactersValidator, "There is a letter in it that cannot be kept: write it again."),
    (UnicodeUsernameValidator, "Letters, figures and @ . + - _ only, without spaces."),
)
_DIGITS = {"invalid": NUMBER, "max_digits": "At most %(max)s figures.",
           "max_decimal_places": "At most %(max)s figures after the point.",
           "max_whole_digits": "At most %(max)s figures before the point."}
_AGAINST_A_RULE = "That cannot be kept as it stands: it goes against a rule of the book, “%(name)s”."
_ROWS: dict[str, Any] = {"missing_management_form": "This page came only in part: load it again.",
         "too_many_forms": "At most %(num)d rows.", "too_few_forms": "At least %(num)d rows."}


def speak_plainly() -> None:
    """Put these sentences in the place of the framework's, for every form and model that is made from now on."""
    known: tuple[tuple[Any, dict[str, str]], ...] = (*_FIELDS, *_MODEL_FIELDS)
    for field, sentences in known:
        field.default_error_messages = {**vars(field).get("default_error_messages", {}), **sentences}
    for validator, sentence in _VALIDATORS:
        validator.message = sentence
    validators.DecimalValidator.messages = _DIGITS
    models.BaseConstraint.default_violation_error_message = _AGAINST_A_RULE
    BaseFormSet.default_error_messages = dict(_ROWS)
    models.Model.unique_error_message = _not_twice  # type: ignore[method-assign]


def _not_twice(self: models.Model, model_class: type[models.Model], unique_check: Any) -> ValidationError:
    """Return what is said where another row has the same value, or the same values together."""
    fields = [model_class._meta.get_field(name) for name in unique_check]
    if len(fields) == 1:
        return ValidationError(str(fields[0].error_messages["unique"]), code="unique")  # type: ignore[union-attr]
    named = get_text_list([str(field.verbose_name) for field in fields], "and")  # type: ignore[union-attr]
    return ValidationError(f"There is one with this {named} already: change one of them.", code="unique_together")
