"""What may be typed in a line of a quote or change order, and in its scope list."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Final, cast

from django import forms
from django.utils.translation import gettext_lazy as _

from common.fields import PercentField
from common.forms import field_as
from jobs.forms.amounts import AmountField
from jobs.models import LineKind, Part, ScopeItem
from jobs.models.quote import SHARE_OF_PARTS
from jobs.quote.labour import Codes
from jobs.quote.lines import HOUR, LineDraft, Rates

if TYPE_CHECKING:
    _FormSet = forms.BaseFormSet[forms.Form]
else:
    _FormSet = forms.BaseFormSet

PERCENT_OF_PARTS: Final = "% of parts"
MAX_LINES: Final = 200
#: A part marked up by bands of what it costs, instead of by a percent.
BANDS: Final = "bands"
_OTHER_KINDS: Final = [kind for kind in LineKind if kind not in {LineKind.LABOUR, LineKind.PART}]
_HUNDRED: Final = Decimal(100)


class LineForm(forms.Form):
    """What every line has. ``low`` of the quantity is below zero in change orders, which may take away."""

    text = forms.CharField(label=_("Text"), max_length=200, required=False)
    is_optional = forms.BooleanField(label=_("Optional"), required=False)
    free_reason = forms.CharField(
        label=_("Free because"),
        max_length=120,
        required=False,
        widget=forms.TextInput(attrs={"placeholder": _("because …")}),
    )

    def __init__(
        self,
        *args: Any,
        rates: Rates,
        parts: Mapping[str, Part],
        codes: Codes,
        low: str = "0",
        **kwargs: Any,
    ) -> None:
        self.rates, self.parts, self.codes = rates, parts, codes
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            if isinstance(field, AmountField) and field.unit in {HOUR, "units"}:
                field.low = Decimal(low)
        for name, field in self.fields.items():
            field.widget.attrs.setdefault("aria-label", str(field.label or name))
            if not isinstance(field.widget, forms.CheckboxInput):
                kind = "form-select" if isinstance(field.widget, forms.Select) else "form-control"
                field.widget.attrs.setdefault("class", kind)
            else:
                field.widget.attrs.setdefault("class", "form-check-input")

    def value(self, name: str, otherwise: Any) -> Any:
        """Return what was typed, or the usual value where the field was left empty."""
        typed = self.cleaned_data.get(name)
        return otherwise if typed is None or typed == "" else typed


class LabourLineForm(LineForm):
    """Hours by task code."""

    code = forms.ChoiceField(label=_("Task"), required=False)
    quantity = AmountField(label=_("Hours"), unit=HOUR, high="999", places=3, required=False)
    unit_price = AmountField(label=_("Rate"), unit="per hour", high="10000", required=False)
    is_pair = forms.BooleanField(label=_("Two people"), required=False)
    field_order = ["code", "text", "quantity", "is_pair", "unit_price", "is_optional"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        stored = self.initial.get("code") or ""  # also one that the shop does not use any more
        known = [*self.codes, *([stored] if stored and stored not in self.codes else [])]
        field_as(self, "code", forms.ChoiceField).choices = [
            ("", _("Own task")),
            *((code, code) for code in known),
        ]
        self.fields["text"].widget.attrs["list"] = "labour-tasks"

    def clean(self) -> dict[str, Any]:
        """Fill words and hours from the task code; a line without a code needs both."""
        data = super().clean() or self.cleaned_data
        code = self.codes.get(data.get("code") or "")
        if code is not None:
            data["text"] = data.get("text") or code.task
            if data.get("quantity") is None and "quantity" not in self.errors:
                data["quantity"] = code.plan_h
        if not data.get("text"):
            self.add_error("text", _("Text: choose a task code or write what is done."))
        if data.get("quantity") is None and "quantity" not in self.errors:
            self.add_error("quantity", _("Hours: how long does it take? 0 to 999 h."))
        return data

    def draft(self) -> LineDraft:
        """Return the line as typed."""
        is_pair = bool(self.cleaned_data["is_pair"])
        rate = self.rates.pair_rate if is_pair else self.rates.labour_rate
        return LineDraft(
            LineKind.LABOUR,
            self.cleaned_data["text"],
            self.cleaned_data["code"],
            self.cleaned_data["quantity"],
            HOUR,
            unit_price=self.value("unit_price", rate),
            is_pair=is_pair,
            is_optional=self.cleaned_data["is_optional"],
            free_reason=self.cleaned_data["free_reason"],
        )


class PartLineForm(LineForm):
    """A part at cost and markup; the percent can be meant as a margin, and then is priced as one."""

    sku = forms.CharField(label=_("Stock code"), max_length=40, required=False)
    quantity = AmountField(label=_("Quantity"), unit="units", high="9999", places=3, required=False)
    unit = forms.CharField(label=_("Unit"), max_length=12, required=False)
    unit_cost = AmountField(label=_("Cost each"), unit="per unit", places=4, required=False)
    markup = PercentField(label=_("Percent"), low="0", high="10", places=4, required=False)
    is_margin = forms.ChoiceField(
        label=_("Percent is"),
        choices=[("", _("markup")), ("1", _("margin")), (BANDS, _("by bands"))],
        required=False,
    )
    field_order = ["sku", "text", "quantity", "unit", "unit_cost", "markup", "is_margin", "is_optional"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["sku"].widget.attrs["list"] = "catalogue"
        self.fields["markup"].help_text = ""

    def clean(self) -> dict[str, Any]:
        """Fill words, unit and cost from the catalog; a part of our own words needs a text."""
        data = super().clean() or self.cleaned_data
        sku = (data.get("sku") or "").strip()
        part = self.parts.get(sku.upper())
        if sku and part is None:
            self.add_error(
                "sku", f"Stock code: “{sku}” is not in the catalog. Leave it empty for other parts."
            )
        if part is not None:
            data["text"] = data.get("text") or part.name
            data["unit"] = data.get("unit") or part.unit
            if data.get("unit_cost") is None and "unit_cost" not in self.errors:
                data["unit_cost"] = part.cost
        if not data.get("text") and "sku" not in self.errors:
            self.add_error("text", _("Text: give a stock code or write what the part is."))
        if data.get("is_margin") == "1" and (data.get("markup") or self.rates.markup) >= 1:
            self.add_error("markup", _("Percent: a margin must be under 100%."))
        return data

    def draft(self) -> LineDraft:
        """Return the line as typed."""
        part = self.parts.get((self.cleaned_data["sku"] or "").strip().upper())
        how = self.cleaned_data["is_margin"]
        return LineDraft(
            LineKind.PART,
            self.cleaned_data["text"],
            quantity=self.value("quantity", Decimal(1)),
            unit=self.value("unit", "each"),
            unit_cost=self.value("unit_cost", Decimal(0)),
            markup=None if how == BANDS else self.value("markup", self.rates.markup),
            is_margin=how == "1",
            is_banded=how == BANDS,
            is_optional=self.cleaned_data["is_optional"],
            free_reason=self.cleaned_data["free_reason"],
            part_id=part.pk if part else None,
        )


class OtherLineForm(LineForm):
    """Everything that is neither hours nor a part."""

    kind = forms.ChoiceField(
        label=_("Kind"),
        choices=[("", _("Choose …")), *((kind.value, kind.label) for kind in _OTHER_KINDS)],
        required=False,
    )
    quantity = AmountField(label=_("Quantity"), unit="units", high="9999", places=3, required=False)
    unit = forms.CharField(label=_("Unit"), max_length=12, required=False)
    unit_price = AmountField(label=_("Price each"), unit="per unit", low="-100000", places=4, required=False)
    unit_cost = AmountField(label=_("Cost each"), unit="per unit", places=4, required=False)
    code = forms.CharField(required=False, max_length=8, widget=forms.HiddenInput)
    field_order = ["kind", "text", "quantity", "unit", "unit_price", "unit_cost", "is_optional", "code"]

    def clean(self) -> dict[str, Any]:
        """Hold a customer's part to its rules, and minus signs to old parts taken away."""
        data = super().clean() or self.cleaned_data
        kind, price = data.get("kind"), data.get("unit_price")
        if not kind:
            self.add_error("kind", _("Kind: choose what this line is."))
        if not data.get("text"):
            self.add_error("text", _("Text: write what it is."))
        if price is not None and price < 0 and kind != LineKind.DISPOSAL:
            self.add_error(
                "unit_price",
                _(
                    "Price each: only disposal may be below 0 (what old batteries bring). A discount is typed"
                    " without a minus sign."
                ),
            )
        if kind == LineKind.CUSTOMER_PART:
            self._check_customer_part(data)
        if price and data.get("free_reason"):
            self.add_error(
                "free_reason",
                _("Free because: this line has a price. Take the price out, or leave this empty."),
            )
        return data

    def _check_customer_part(self, data: dict[str, Any]) -> None:
        words = (data.get("text") or "").lower()
        if "used" in words and "batter" in words:
            self.add_error("text", _("Text: we do not install used batteries brought by a customer."))
        if data.get("unit_price"):
            self.add_error(
                "unit_price", _("Price each: a part the customer brings has no price; leave it empty.")
            )

    def draft(self) -> LineDraft:
        """Return the line as typed; a percent of parts is kept as a share."""
        data = self.cleaned_data
        is_share = data["kind"] == LineKind.CONSUMABLES and data["unit"].strip() == PERCENT_OF_PARTS
        quantity = self.value("quantity", Decimal(1))
        return LineDraft(
            data["kind"],
            data["text"],
            data["code"],
            quantity / _HUNDRED if is_share else quantity,
            SHARE_OF_PARTS if is_share else self.value("unit", "each"),
            unit_price=self.value("unit_price", Decimal(0)),
            unit_cost=self.value("unit_cost", Decimal(0)),
            is_optional=data["is_optional"],
            free_reason=data["free_reason"],
        )


class ScopeForm(forms.Form):
    """One thing that is in, out or an allowance."""

    text = forms.CharField(label=_("What"), max_length=120, required=False)
    answer = forms.ChoiceField(label=_("Answer"), choices=ScopeItem.Answer, initial=ScopeItem.Answer.OUT)
    note = forms.CharField(label=_("Note"), max_length=200, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            field.widget.attrs["aria-label"] = str(field.label)
            field.widget.attrs["class"] = (
                "form-select" if isinstance(field.widget, forms.Select) else "form-control"
            )

    def clean(self) -> dict[str, Any]:
        """Refuse an answer to nothing."""
        data = super().clean() or self.cleaned_data
        if not data.get("text"):
            self.add_error("text", _("What: say what is included, not included or an allowance."))
        return data


class RowSet(_FormSet):
    """Rows of one kind; a new row left empty is no row, a struck-out one goes."""

    def add_fields(self, form: forms.Form, index: int | None) -> None:
        """Add the box that strikes a row out, named and sized like the others."""
        super().add_fields(form, index)
        form.fields["DELETE"].label = _("Remove")
        form.fields["DELETE"].widget.attrs |= {"class": "form-check-input", "aria-label": "Remove"}

    def kept(self) -> list[Any]:
        """Return the rows that say something, in order."""
        return [form for form in self.forms if form.cleaned_data and not form.cleaned_data.get("DELETE")]


def row_set(form: type[forms.Form], *, extra: int) -> type[RowSet]:
    """Return the class of a set of such rows."""
    made = forms.formset_factory(
        form, formset=RowSet, extra=extra, can_delete=True, max_num=MAX_LINES, validate_max=True
    )
    return cast("type[RowSet]", made)  # what the factory makes is a kind of its formset
