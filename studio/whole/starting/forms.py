"""The compact forms of the first day: what an hour costs, hands and days, materials with their prices, the finishes."""

from __future__ import annotations

from datetime import time
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django import forms

from studio.exact import LENGTH_DECIMALS, STOCK_DECIMALS
from studio.house.models import House, HouseRates
from studio.house.typed_fields import MoneyField
from studio.kit.currencies import show_money, sign
from studio.kit.errors import DaybookError
from studio.kit.locks import AGAIN
from studio.kit.meant_so import AsksOfRates
from studio.kit.pane_sizes import size_question
from studio.kit.rounding import as_decimal, plain
from studio.kit.typed_numbers import is_whole
from studio.kit.typed_values import show_time
from studio.kit.units import amount_in, parse_size, plain_number, show_size, size_unit, stock_amount
from studio.kit.unusual_rates import bench_question, pack_price_question, pack_question, sheet_question
from studio.kit.working_hours import DAYS, NoHours, hours_question, minutes_of, parse_hours, show_hours


class ShareField(forms.CharField):
    """A share typed in percent, “35” or “35 %”; its value is a Decimal from 0 to below 1."""

    def clean(self, value: Any) -> Any:
        text = str(super().clean(value)).strip().removesuffix("%").strip()
        if not text:
            return Decimal(0)
        try:
            share = plain_number(text.replace(",", ".")) / 100
        except DaybookError:
            raise forms.ValidationError(f"“{value}” is no percentage: write for instance 35.") from None
        if not 0 <= share < 1:
            raise forms.ValidationError("It is from 0 to below 100 %.")
        return as_decimal(share, 6)


class StartRatesForm(AsksOfRates):
    """The few rates that nobody can know but the studio. Values: the columns of HouseRates."""

    helper_per_hour = MoneyField(help_text="What an hour of a helper costs you, with all that is paid on top. If you "
                                           "work alone: your own.")
    owner_per_hour = MoneyField(help_text="What an hour of your own is worth.")
    overhead_per_bench_hour = MoneyField(required=False, help_text="Rent, power, insurance and the like, for each hour "
                                                                   "worked. Empty: none.")
    margin_share = ShareField(label="Margin, %", help_text="Of the price, what is left after all costs.")
    minimum_charge = MoneyField(required=False, help_text="No order is quoted below this. Empty: none.")
    tax_name = forms.CharField(max_length=20, label="Tax is called", help_text="For instance VAT, GST, IVA.")
    tax_share = ShareField(label="Tax, %", required=False, help_text="Added to the net price. Empty: none.")

    def __init__(self, data: Any = None, *, rates: HouseRates) -> None:
        shown = {name: getattr(rates, name) for name in
                 ("helper_per_hour", "owner_per_hour", "overhead_per_bench_hour", "minimum_charge")
                 if getattr(rates, name)}
        shares = {name: f"{plain(getattr(rates, name) * 100)} %" for name in ("margin_share", "tax_share")
                  if getattr(rates, name)}
        super().__init__(data, initial={**shown, **shares, "tax_name": rates.tax_name})
        self.rates = rates
        mark = sign(rates.currency)
        for name, what in (("helper_per_hour", "A helper, {} an hour"), ("owner_per_hour", "The owner, {} an hour"),
                           ("overhead_per_bench_hour", "Overhead, {} an hour"),
                           ("minimum_charge", "Least that is charged, {}")):
            self.fields[name].label = what.format(mark)
        for field in self.fields.values():
            if isinstance(field, MoneyField | ShareField):
                field.widget.attrs["inputmode"] = "decimal"
            if isinstance(field, MoneyField):
                field.currency = rates.currency

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        for name in ("overhead_per_bench_hour", "minimum_charge"):
            values[name] = values.get(name) or Decimal(0)
        for name in ("helper_per_hour", "owner_per_hour"):
            if name in values and not values[name]:
                self.add_error(name, "An hour costs something: write what, or no price can be worked out.")
        typed = {name: value for name, value in values.items() if getattr(self.rates, name) != value}
        self.ask_of_rates(typed, self.rates.currency)
        return values


class HandsForm(AsksOfRates):
    """Hands, bench and hours. Values: of `rates` (columns of HouseRates) and of `house` (columns of House)."""

    hands = forms.TypedChoiceField(choices=[(1, "one pair"), (2, "two pairs")], coerce=int, label="Hands at the bench")
    benches = forms.IntegerField(min_value=1, max_value=6, help_text="Where a load can lie while it is wet.")
    bench = forms.CharField(label="Size of a bench", help_text="Width and depth: 1200 x 800 mm, 48 x 30 in.")
    bench_hours = forms.CharField(label="On the bench a day", help_text="Hours of hands-on work a day holds: 7 h.")
    days = forms.MultipleChoiceField(choices=[(day, day.capitalize()) for day in DAYS], label="Working days",
                                     widget=forms.CheckboxSelectMultiple)
    hours = forms.CharField(label="Working hours", help_text="By the end of them ammoniacal silver is made safe.")

    def __init__(self, data: Any = None, *, rates: HouseRates, house: House) -> None:
        known = {day: getattr(house, f"hours_{day}") for day in DAYS if getattr(house, f"hours_{day}")}
        super().__init__(data, initial={
            "hands": rates.hands, "benches": rates.benches,
            "bench": show_size(Fraction(rates.bench_width_mm), Fraction(rates.bench_height_mm)),
            "bench_hours": f"{plain(rates.bench_day_minutes / 60)} h",
            "days": list(known) or list(DAYS[:5]), "hours": next(iter(known.values()), "09:00-17:00"),
        })
        self.rates, self.known_hours, self.preference = rates, list(known.values()), house.units
        self.varies = len(set(known.values())) > 1
        if self.varies:  # day by day they stand in the settings, and are not made alike here
            del self.fields["days"], self.fields["hours"]

    @property
    def short(self) -> list[forms.BoundField]:
        return [self[name] for name in self.fields if name != "days"]

    def clean_bench(self) -> tuple[Decimal, Decimal]:
        try:
            size = parse_size(self.cleaned_data["bench"], size_unit(self.preference))
        except DaybookError as refusal:
            raise forms.ValidationError(str(refusal)) from refusal
        if size.single or size.doubt:
            raise forms.ValidationError(size.doubt or "Write width and depth, for instance 1200 x 800 mm.")
        return as_decimal(size.width_mm, LENGTH_DECIMALS), as_decimal(size.height_mm, LENGTH_DECIMALS)

    def clean_bench_hours(self) -> Decimal:
        typed = self.cleaned_data["bench_hours"].strip()
        try:
            minutes = amount_in(f"{typed} h" if is_whole(typed.replace(".", "")) else typed, "time")
        except DaybookError as refusal:
            raise forms.ValidationError(str(refusal)) from refusal
        if not 0 < minutes <= 24 * 60:
            raise forms.ValidationError("A day has up to 24 hours.")
        return as_decimal(minutes, 6)

    def clean_hours(self) -> str:
        try:
            return show_hours(parse_hours(self.cleaned_data["hours"]))
        except NoHours as refusal:
            raise forms.ValidationError(str(refusal)) from refusal

    def clean(self) -> dict[str, Any]:
        """Ask about a bench and hours that few have, and about a bench day that is longer than the working day."""
        values: dict[str, Any] = super().clean() or self.cleaned_data
        stood = self.rates.bench_width_mm, self.rates.bench_height_mm
        if "bench" in values and values["bench"] != stood:
            width, height = values["bench"]
            question = bench_question(width, height, str(self["bench"].value()))
            if question:
                self.ask("bench", question)
        days = [parse_hours(typed) for typed in ([values["hours"]] if "hours" in values else self.known_hours)]
        if "hours" in values and "hours" in self.changed_data and (question := hours_question(days[0])):
            self.ask("hours", question)
        longest = max((day for day in days if day), key=minutes_of, default=None)
        if "bench_hours" in values:
            self._ask_of_bench_hours(values["bench_hours"], longest)
        return values

    def _ask_of_bench_hours(self, minutes: Decimal, longest: tuple[time, time] | None) -> None:
        if longest is not None and minutes > minutes_of(longest):
            self.ask("bench_hours", f"That is {show_time(Fraction(minutes))} on the bench, and the working hours, "
                                    f"{show_hours(longest)}, are {show_time(Fraction(minutes_of(longest)))}: "
                                    "more than they hold?")
        elif minutes != self.rates.bench_day_minutes:
            self.ask_of_rates({"bench_hours": minutes}, meant_for={"bench_hours": "bench_day_minutes"})

    @property
    def of_rates(self) -> dict[str, Any]:
        width, height = self.cleaned_data["bench"]
        return {"hands": self.cleaned_data["hands"], "benches": self.cleaned_data["benches"], "bench_width_mm": width,
                "bench_height_mm": height, "bench_day_minutes": self.cleaned_data["bench_hours"]}

    @property
    def of_house(self) -> dict[str, str]:
        if self.varies:
            return {}
        days = self.cleaned_data["days"]
        return {f"hours_{day}": self.cleaned_data["hours"] if day in days else "" for day in DAYS}


class MaterialRow(AsksOfRates):
    """One row of the shelf: whether it is entered, and what a pack of it costs. prefix: its key."""

    tick = forms.BooleanField(required=False)
    pack = forms.CharField(required=False, max_length=40)
    price = MoneyField(required=False)
    opened = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(self, data: Any = None, *, name: str, prefix: str, unit: str, pack: str, ticked: bool,
                 currency: str, standing: Any = None, density: Fraction | None = None) -> None:
        super().__init__(data, prefix=prefix, initial={"tick": ticked and standing is None, "pack": pack})
        self.name, self.unit, self.density, self.standing = name, unit, density, standing
        self.initial["opened"] = standing.saves if standing else 0
        price: Any = self.fields["price"]
        price.currency = currency
        self.fields["tick"].label = name
        self.fields["pack"].label = f"{'Sheet size' if unit == 'sheet' else 'Pack'} of {name}"
        self.fields["price"].label = f"Price of {name}, {sign(currency)}"
        self.fields["price"].widget.attrs["inputmode"] = "decimal"

    def refuse_changed(self) -> bool:
        """Say beside the row that its material was entered or changed since this page was opened; then it may be sent.

        A row that says nothing new is left as it is. Returns whether something was said.
        """
        values, now = self.cleaned_data, self.standing.saves if self.standing else 0
        if (values.get("opened") or "0") == str(now):
            return False
        if values.get("price") is None and not (values["tick"] and self.standing is None):
            return False
        self.add_error("price", f"{self.name} {self._stands()} meanwhile. Nothing was saved: compare it with what you "
                                f"typed. {AGAIN}")
        sent: Any = self.data
        self.data = {**sent.dict(), self.add_prefix("opened"): str(now)}
        return True

    def _stands(self) -> str:
        if self.standing is None:
            return "was taken away"
        price: Any = self.fields["price"]
        listed, unit = self.standing.list_price, self.standing.stock_unit
        reads = f"{show_money(Fraction(listed), price.currency, 4)} a {unit}" if listed is not None else "no price"
        return f"was entered or changed, and has {reads}"

    @property
    def is_glass(self) -> bool:
        return self.unit == "sheet"

    def clean(self) -> dict[str, Any]:
        """Read the pack in the material's unit, or the size of a sheet. A price enters what nobody ticked."""
        values = super().clean() or self.cleaned_data
        values["tick"] = values.get("tick") or values.get("price") is not None
        if (values["tick"] and self.standing is None) or values.get("price") is not None:
            try:
                values["size"] = self._read(str(values.get("pack", "")))
            except DaybookError as refusal:
                self.add_error("pack", str(refusal))
        price: Any = self.fields["price"]
        if values.get("price") is not None and (question := pack_price_question(values["price"], price.currency)):
            self.ask("price", question)
        return values

    def _read(self, text: str) -> Any:
        if self.is_glass:
            size = parse_size(text, "mm")
            if size.single or size.doubt:
                raise DaybookError(size.doubt or "Write width and height of a sheet: 2250 x 1605 mm.")
            if question := size_question(size) or sheet_question(size.width_mm, size.height_mm):
                self.ask("pack", question)
            return as_decimal(size.width_mm, LENGTH_DECIMALS), as_decimal(size.height_mm, LENGTH_DECIMALS)
        amount = as_decimal(stock_amount(text, self.unit, self.density), STOCK_DECIMALS)
        if amount <= 0:
            raise DaybookError("Give a pack above nothing.")
        if question := pack_question(amount, self.unit):
            self.ask("pack", question)
        return amount


#: a making-safe procedure of fewer letters is hardly one
SHORTEST_PROCEDURE = 40


class PutInUseForm(forms.Form):
    """The cautions read, and the studio's making-safe procedure where it has none yet."""

    making_safe_procedure = forms.CharField(
        label="Making-safe procedure of this studio", widget=forms.Textarea(attrs={"rows": 4}), required=False,
        help_text="In your own words, or where it hangs: what is added to what, in which vessel, with what protection, "
                  "who does it, and where it stands until it is collected.",
    )
    cautions_read = forms.BooleanField(label="I have read these cautions", required=False)

    def __init__(self, data: Any = None, *, house: House) -> None:
        super().__init__(data)
        self.has_procedure = bool(house.making_safe_procedure.strip())
        self.procedure_meanwhile = ""
        if self.has_procedure:
            del self.fields["making_safe_procedure"]
            typed = str(self.data.get("making_safe_procedure", "")).strip()
            if typed and typed != house.making_safe_procedure.strip():
                self.procedure_meanwhile = house.making_safe_procedure

    def clean(self) -> dict[str, Any]:
        if self.procedure_meanwhile:
            self.add_error(None, f"A making-safe procedure was written meanwhile: “{self.procedure_meanwhile}” Yours "
                                 "was not saved; change that one in Studio settings, or press again to keep it.")
        return super().clean() or self.cleaned_data

    def clean_making_safe_procedure(self) -> str:
        typed = str(self.cleaned_data["making_safe_procedure"]).strip()
        if len(typed) < SHORTEST_PROCEDURE:
            raise forms.ValidationError("Whoever makes ammoniacal silver safe has only this: say what is added to "
                                        "what, and where it stands.")
        return typed

    def clean_cautions_read(self) -> bool:
        if not self.cleaned_data["cautions_read"]:
            raise forms.ValidationError("Read the cautions, and tick that you have.")
        return True
