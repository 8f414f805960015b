"""Each field of the long forms has one line of help; what is rarely used is folded until it holds something."""

from __future__ import annotations

import pytest

from jobs.customers.forms import AddressForm, ContactForm, CustomerForm, ForgetForm, MergeForm
from jobs.desk.sample_forms import ApprovedForm, GoAheadForm, SampleForm
from recipes.finishes.step_forms import PartForm, StepForm
from recipes.solutions.forms import IngredientForm, SolutionForm
from studio.house.rates_forms import RatesForm
from studio.stockroom.material_forms import MaterialForm
from studio.stockroom.models import Material
from tests import builders


@pytest.mark.parametrize("form", [
    StepForm, PartForm, SolutionForm, IngredientForm, MaterialForm, RatesForm, SampleForm, ApprovedForm, GoAheadForm,
    CustomerForm, ContactForm, AddressForm, MergeForm, ForgetForm],
                         ids=lambda form: form.__name__)
def test_every_field_says_in_a_line_what_it_is(form):
    fields = {name: field for name, field in form.base_fields.items() if not field.widget.is_hidden}
    bare = [name for name, field in fields.items() if not field.help_text]
    # a list to tick explains itself by its own words; the currency says whether it can still change
    assert set(bare) <= {"reacts_as", "pictograms", "currency"}


@pytest.mark.django_db
class TestFolding:
    def test_a_new_material_shows_seven_fields_and_folds_the_rest(self, house):
        form = MaterialForm()
        assert sum(len(fields) for _, fields in form.groups) == 7
        assert [is_open for _, _, is_open in form.folded] == [False, False, False]

    def test_a_group_that_holds_something_is_open(self, house):
        silver = builders.material("Silver nitrate", formula="AgNO3", none_apply=True)
        form = MaterialForm(instance=silver)
        assert {words: is_open for words, _, is_open in form.folded} == {
            "Formula, assay, density, silver": True, "How long it keeps, when to reorder": False,
            "Glass only: sheet, thickness, tint": False,
        }

    def test_a_group_that_refuses_something_is_open(self, house):
        form = MaterialForm({"name": "Tin", "kind": Material.Kind.CHEMICAL, "stock_unit": "g", "reorder_point": "lots"})
        assert not form.is_valid()
        assert {words: is_open for words, _, is_open in form.folded}["How long it keeps, when to reorder"]

    def test_a_solution_folds_its_times_until_one_is_said(self, house):
        assert [is_open for _, _, is_open in SolutionForm().folded] == [False, False]
        typed = SolutionForm({"solution-name": "Tin stock", "solution-working_minutes": "40 min"})
        assert [is_open for _, _, is_open in typed.folded] == [True, False]
