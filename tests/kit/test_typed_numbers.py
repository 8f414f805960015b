"""Every number typed has bounds on letters and size before it is made one, in one place: no other makes any of text."""

from __future__ import annotations

import ast
import re
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest
from django import forms
from django.core.exceptions import ValidationError

from studio.exact import ratio_field
from studio.kit.errors import DaybookError
from studio.kit.typed_dates import DayReader
from studio.kit.typed_money import read_money
from studio.kit.typed_numbers import NoNumber, bounded, is_whole, read_decimal, read_exact, read_whole, whole_number
from studio.kit.units import parse_amount, parse_size

HOME = Path(__file__).resolve().parents[2]

#: what no door takes for a number
NO_NUMBERS = (
    "1e40000000", "1e-40000000", "9" * 5000, "0." + "9" * 5000, "NaN", "-NaN", "sNaN", "Infinity", "-Infinity", "inf", "²", "1²", "½²",
    "١٢", "１２", "1\x002", "1\n2", "1\r\n2", "1\u20282", "0x10", "1_000", "1e3", "++1", "--1", "1..2", "", " ", "\x00", "\ud800", "1" * 61,
)


@pytest.mark.parametrize("text", NO_NUMBERS, ids=lambda text: ascii(text[:12]))
def test_what_is_no_number_is_refused_in_a_sentence_by_every_reader(text):
    for read in (read_whole, read_decimal, read_exact):
        with pytest.raises(NoNumber, match=r"[a-z]{2}.*\.$"):
            read(text)
    assert whole_number(text, 7) == 7
    assert not is_whole(text)
    for field in (forms.IntegerField(), forms.DecimalField(), forms.FloatField(), ratio_field().formfield()):
        with pytest.raises(ValidationError):
            field.clean(text)


@pytest.mark.parametrize("text", ["1e40000000", "9" * 5000, "1²", "１２", "1\x002", "1\r\n2", "NaN", "9" * 70], ids=lambda text: ascii(text[:12]))
def test_what_is_no_number_is_no_amount_size_sum_or_date_either(text):
    from datetime import date

    reader = DayReader(today=date(2026, 3, 2), day_first=lambda: True)
    for read in (lambda: parse_amount(f"{text} g", "mass"), lambda: parse_size(f"{text} x 5"), lambda: read_money(text, ["GBP"]),
                 lambda: reader.read(f"in {text} days"), lambda: reader.read_moment(f"1 Feb {text}:30", None)):
        with pytest.raises(DaybookError):
            read()


def test_what_people_write_is_read():
    assert read_whole(" 12 ") == read_whole("12.0") == 12
    assert read_whole("-3") == -3
    assert read_decimal("-12.50") == Decimal("-12.5")
    assert read_exact(".5") == Fraction(1, 2)
    assert bounded("300 mL/m²") == "300 mL/m²"
    assert whole_number("007") == 7
    assert forms.IntegerField().clean("12") == 12
    assert forms.DecimalField().clean("12.5") == Decimal("12.5")


def test_a_column_refuses_a_number_that_no_column_holds_without_working_it_out():
    field = ratio_field()
    for value in (Decimal("1e40000000"), Decimal("1e-40000000"), Decimal("NaN"), Decimal("Infinity")):
        with pytest.raises(ValidationError):
            field.get_prep_value(value)


#: where a number is made of text that nobody typed, or of text that was looked at letter by letter; and why
ALLOWED = {
    "studio/kit/typed_numbers.py": "the one reader",
    "studio/exact.py": "what a program gives a column, or a database gives back; bounded as it is written",
    "studio/kit/formulas.py": "masses of the elements, from a library",
    "studio/kit/unusual_rates.py": "bounds that stand in the program",
    "studio/kit/rounding.py": "digits of a number",
    "studio/kit/meant_so.py": "a column's own value, shown again",
    "studio/house/typed_fields.py": "a bound that stands in the program",
    "studio/whole/book/document.py": "the figures of a book, counted before they are made numbers",
    "studio/stockroom/hazards/trade.py": "the list of materials that comes with the program",
    "studio/stockroom/tables.py": "asked only whether a spreadsheet takes a cell for a number; the cell stays text",
    "studio/whole/starting/library.py": "minutes of the steps that come with the program",
    "jobs/templatetags/order_words.py": "weights that the program has frozen with a quote",
    "jobs/looking_back/going_bigger.py": "a rounded number of the program",
    "jobs/week/honest.py": "minutes that the program has frozen with a quote, or keeps of a run",
}
_MAKERS = {"int", "float", "complex", "Decimal", "Fraction"}
_TEXT_METHODS = {"strip", "rstrip", "lstrip", "replace", "lower", "removesuffix", "removeprefix", "partition", "rpartition", "split", "group",
                 "groups", "getlist", "splitlines", "join", "sub", "match", "fullmatch", "search", "findall", "groupdict", "casefold", "translate"}
_SENT = {"GET", "POST", "body", "META", "headers", "COOKIES"}


class _Text(ast.NodeVisitor):
    """Finds numbers that a function makes of text: of what is typed so, cut out of text, or sent by a page."""

    def __init__(self) -> None:
        self.found: list[tuple[int, str]] = []
        self.text: set[str] = set()

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        outer = set(self.text)
        arguments = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
        self.text -= {argument.arg for argument in arguments}
        self.text |= {argument.arg for argument in arguments
                      if argument.annotation is not None and _says_text(argument.annotation)}
        for _ in range(3):  # what is text follows from what stands above, and in a loop below
            for inner in ast.walk(node):
                self._learn(inner)
        self.generic_visit(node)
        self.text = outer

    def _learn(self, node: ast.AST) -> None:
        pairs: list[tuple[ast.AST, ast.AST]] = []
        if isinstance(node, ast.Assign):
            for target in node.targets:
                both = isinstance(target, ast.Tuple) and isinstance(node.value, ast.Tuple) and len(target.elts) == len(node.value.elts)
                pairs += list(zip(target.elts, node.value.elts, strict=True)) if both else [(target, node.value)]
        elif isinstance(node, ast.NamedExpr | ast.AnnAssign) and node.value is not None:
            pairs.append((node.target, node.value))
        elif isinstance(node, ast.For | ast.comprehension):
            pairs.append((node.target, node.iter))
        for target, value in pairs:
            if self.is_text(value):
                self.text |= {name.id for name in ast.walk(target) if isinstance(name, ast.Name)}

    def is_text(self, node: ast.AST | None) -> bool:
        if isinstance(node, ast.JoinedStr):
            return True
        if isinstance(node, ast.Name):
            return node.id in self.text
        if isinstance(node, ast.Attribute):
            return node.attr in _SENT or (node.attr in ("fields", "data") and self._sent(node.value))
        if isinstance(node, ast.Subscript | ast.Starred):
            return self.is_text(node.value)
        if isinstance(node, ast.BoolOp):
            return any(map(self.is_text, node.values))
        if isinstance(node, ast.IfExp):
            return self.is_text(node.body) or self.is_text(node.orelse)
        if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
            return self.is_text(node.left) or self.is_text(node.right)
        if isinstance(node, ast.Call):
            name = node.func
            if isinstance(name, ast.Name):
                return name.id == "str"
            if isinstance(name, ast.Attribute):
                return name.attr in _TEXT_METHODS or (name.attr in ("get", "items", "values") and self.is_text(name.value))
        return False

    @staticmethod
    def _sent(node: ast.AST) -> bool:
        return isinstance(node, ast.Name) and node.id in ("sent", "self", "form")

    def visit_Call(self, node: ast.Call) -> None:
        name = node.func.id if isinstance(node.func, ast.Name) else ""
        if name in _MAKERS and any(map(self.is_text, node.args)):
            self.found.append((node.lineno, ast.unparse(node)))
        if isinstance(node.func, ast.Attribute) and node.func.attr in ("isdigit", "isdecimal", "isnumeric"):
            self.found.append((node.lineno, ast.unparse(node)))
        if isinstance(node.func, ast.Name) and node.func.id == "map" and isinstance(node.args[0], ast.Name) and node.args[0].id in _MAKERS:
            self.found.append((node.lineno, ast.unparse(node)))
        self.generic_visit(node)


def _says_text(annotation: ast.AST) -> bool:
    """Say whether an annotation is of text, or of a match in it: not so of what may be a number as well."""
    said = set(re.findall(r"\w+", ast.unparse(annotation)))
    return bool(said & {"str", "Match", "QueryDict"}) and not said & {"Any", "int", "Fraction", "Decimal", "object"}


def numbers_made_of_text(source: str) -> list[tuple[int, str]]:
    reader = _Text()
    reader.visit(ast.parse(source))
    return reader.found


@pytest.mark.parametrize("source", [
    "def f(request):\n    return int(request.GET.get('page', ''))",
    "def f(request):\n    page = request.POST['page']\n    return Decimal(page.strip())",
    "def f(request):\n    return [int(pk) for pk in request.POST.getlist('lot') if pk]",
    "def f(text: str):\n    return Fraction(text)",
    "def f(text):\n    found = SIZE.fullmatch(text)\n    return int(found[1]) * float(found['other'])",
    "def f(request):\n    number, _, rest = request.body.partition(':')\n    return Fraction(rest)",
    "def f(pk):\n    return pk.isdecimal()",
    "def f(sent):\n    return {int(one) for one in sent.fields.get('one', ())}",
    "def f(text: str):\n    return list(map(int, text.split(',')))",
])
def test_the_reader_of_the_source_sees_a_number_made_of_text(source):
    assert numbers_made_of_text(source)


def test_no_number_is_made_of_typed_text_but_in_the_one_reader():
    elsewhere, used = [], set()
    for room in ("studio", "recipes", "jobs"):
        for path in sorted((HOME / room).rglob("*.py")):
            name = str(path.relative_to(HOME))
            if "/migrations/" in name or "/demo/" in name or "/management/" in name:  # nothing is typed there
                continue
            for line, made in numbers_made_of_text(path.read_text(encoding="utf-8")):
                used.add(name)
                elsewhere += [f"{name}:{line}: {made}"] if name not in ALLOWED else []
    assert "\n".join(elsewhere) == ""
    assert set(ALLOWED) <= used, set(ALLOWED) - used
