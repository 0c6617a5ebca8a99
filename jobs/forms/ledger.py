"""What is typed to issue an invoice, credit one, or enter money."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any, Final

from django import forms
from django.utils.translation import gettext_lazy as _

from common.currency import places_of, smallest
from common.forms import field_as
from jobs.forms.amounts import AmountField
from jobs.models import Invoice, Payment, Shop

_PARTS: Final = (Invoice.Kind.DEPOSIT, Invoice.Kind.PROGRESS, Invoice.Kind.FINAL)
#: The day of a form that asks for one.
_DAY: Final = {"type": "date"}


def amount_field(shop: Shop, **kwargs: Any) -> AmountField:
    """Return a field for an amount that can be paid in the shop's currency."""
    kwargs.setdefault("low", f"{smallest(shop.currency):f}")
    return AmountField(unit="", places=places_of(shop.currency), **kwargs)


class YesNoField(forms.ChoiceField):
    """A choice between two sentences, read as no and yes."""

    def __init__(self, *, no: Any, yes: Any, **kwargs: Any) -> None:
        super().__init__(choices=[("", no), ("1", yes)], required=False, **kwargs)

    def clean(self, value: Any) -> Any:
        """Return whether the second sentence was chosen."""
        return bool(super().clean(value))


class InvoiceForm(forms.Form):
    """A deposit, progress or final invoice."""

    kind = forms.ChoiceField(label=_("Invoice"), choices=[(kind.value, kind.label) for kind in _PARTS])
    due_on = forms.DateField(label=_("Due on"), widget=forms.DateInput(attrs=_DAY, format="%Y-%m-%d"))
    note = forms.CharField(
        label=_("Words on the invoice"),
        max_length=400,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    field_order = ("kind", "amount", "allowance_used", "due_on", "note")

    def __init__(
        self,
        *args: Any,
        shop: Shop,
        today: date,
        deposit: Decimal,
        left: Decimal,
        allowance: Decimal,
        **kwargs: Any,
    ) -> None:
        kind = Invoice.Kind.DEPOSIT if deposit else Invoice.Kind.FINAL
        due = today + timedelta(days=shop.invoice_due_days)
        kwargs.setdefault("initial", {"kind": kind, "due_on": due, "amount": min(deposit, left) or None})
        super().__init__(*args, **kwargs)
        self.fields["amount"] = amount_field(
            shop,
            label=_("Amount, tax included"),
            required=False,
            help_text=_("Of a deposit or progress invoice. A final one is over everything that is left."),
        )
        if allowance:
            self.fields["allowance_used"] = amount_field(
                shop,
                label=_("Used of the allowances"),
                low="0",
                required=False,
                help_text=_("For a final invoice: the rest is credited back."),
            )
        self.order_fields(self.field_order)

    def clean(self) -> dict[str, Any]:
        """Ask for what the kind needs."""
        data = super().clean() or self.cleaned_data
        is_final = data.get("kind") == Invoice.Kind.FINAL
        if is_final:
            data["amount"] = None
            if "allowance_used" in self.fields and data.get("allowance_used") is None:
                self.add_error("allowance_used", _("Used of the allowances: say how much, 0 if nothing."))
        elif data.get("amount") is None and "amount" not in self.errors:
            self.add_error("amount", _("Amount, tax included: how much is asked for?"))
        return data


class PaymentForm(forms.Form):
    """Money that came in, or was given back."""

    is_paid_back = YesNoField(label=_("This money"), no=_("was received"), yes=_("was paid back"))
    method = forms.ChoiceField(label=_("How"), choices=Payment.Method)
    received_on = forms.DateField(label=_("On"), widget=forms.DateInput(attrs=_DAY, format="%Y-%m-%d"))
    reference = forms.CharField(
        label=_("Reference"),
        max_length=80,
        required=False,
        help_text=_("Check number or transfer text. Never a card number."),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    field_order = ("is_paid_back", "amount", "method", "received_on", "reference")

    def __init__(self, *args: Any, shop: Shop, today: date, due: Decimal = Decimal(0), **kwargs: Any) -> None:
        kwargs.setdefault(
            "initial", {"received_on": today, "amount": due if due > 0 else None, "method": "check"}
        )
        super().__init__(*args, **kwargs)
        self.fields["amount"] = amount_field(shop, label=_("Amount received"))
        self.order_fields(self.field_order)


class CreditForm(forms.Form):
    """What is taken back of an invoice, and why."""

    lowers_price = YesNoField(
        label=_("Because"),
        no=_("the invoice was wrong: it may be issued anew"),
        yes=_("the price is lowered"),
    )
    reason = forms.CharField(
        label=_("Words on the credit note"),
        min_length=5,
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    field_order = ("amount", "lowers_price", "reason")

    def __init__(self, *args: Any, shop: Shop, left: Decimal, **kwargs: Any) -> None:
        kwargs.setdefault("initial", {"amount": left})
        super().__init__(*args, **kwargs)
        self.fields["amount"] = amount_field(shop, label=_("Amount taken back, tax included"))
        self.order_fields(self.field_order)


class UndoForm(forms.Form):
    """Why an entry is taken back."""

    reason = forms.CharField(label=_("What was wrong"), min_length=5, max_length=200)


class MonthForm(forms.Form):
    """Which month of the books is wanted."""

    month = forms.ChoiceField(label=_("Month"))

    def __init__(self, *args: Any, months: list[date], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field_as(self, "month", forms.ChoiceField).choices = [
            (f"{month:%Y-%m}", f"{month:%B %Y}") for month in months
        ]
