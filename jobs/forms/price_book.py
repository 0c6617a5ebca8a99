"""What may be typed in the price book: rates, hours by task, sales tax by day, lines of the scope."""

from __future__ import annotations

from typing import Any, Final

from django import forms
from django.utils.translation import gettext_lazy as _

from common.edit_conflicts import WatchedForm
from common.fields import PercentField
from common.forms import RecordForm, field_as
from jobs.forms.amounts import AmountField
from jobs.forms.shop import ShopSettingsForm
from jobs.models import ScopeText, Shop, TaskHours, TaxRate
from jobs.quote.labour import codes_of

#: Headings of the page of rates and the fields under each.
RATE_GROUPS: Final[dict[str, list[str]]] = {
    "Labor": ["labour_rate", "pair_rate", "labour_cost"],
    "Travel": ["call_fee", "mile_rate", "mile_cost"],
    "Parts and consumables": ["markup", "consumables_fraction"],
    "Disposal": ["old_battery_price", "old_panel_price"],
}


class RatesForm(WatchedForm, RecordForm[Shop]):
    """What the shop charges by the hour, the mile, the share and the piece."""

    markup = PercentField(high="10", help_text=_("Added to the cost of parts."))
    consumables_fraction = PercentField(label=_("Consumables"), help_text=_("Of the cost of parts."))
    old_battery_price = AmountField(
        label=_("Old battery, each"), unit="", low="-10000", high="10000", required=False,
        help_text=_("Below zero where its core value is credited. Blank: asked for on each quote."),
    )  # fmt: skip
    old_panel_price = AmountField(
        label=_("Old panel, each"), unit="", high="10000", required=False,
        help_text=_("Blank: no line of its own."),
    )  # fmt: skip

    class Meta:
        model = Shop
        fields = [name for names in RATE_GROUPS.values() for name in names]
        labels = ShopSettingsForm.Meta.labels
        help_texts = ShopSettingsForm.Meta.help_texts

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, units=kwargs["instance"].units, **kwargs)
        for name in (*RATE_GROUPS["Labor"], *RATE_GROUPS["Travel"]):
            field_as(self, name, forms.DecimalField).max_value = 10_000

    def groups(self) -> list[tuple[str, list[forms.BoundField]]]:
        """Return the fields under their headings."""
        return [(title, [self[name] for name in names]) for title, names in RATE_GROUPS.items()]


def _hours(label: Any, help_text: Any = "", *, required: bool = True) -> AmountField:
    return AmountField(label=label, unit="h", high="200", places=2, required=required, help_text=help_text)


class TaskHoursForm(WatchedForm, RecordForm[TaskHours]):
    """A labor code: its words, its hours and who does it."""

    low_h = _hours(_("Hours, low"), _("When all goes well."))
    plan_h = _hours(_("Hours, plan"), _("What a new quote takes. Blank: cannot be planned."), required=False)
    high_h = _hours(_("Hours, high"), _("At the worst."))

    class Meta:
        model = TaskHours
        fields = [
            "code", "task", "low_h", "plan_h", "high_h", "scales_with", "is_pair", "is_roof", "needs_licence",
            "is_active",
        ]  # fmt: skip
        labels = {
            "code": _("Code"), "task": _("Task"), "scales_with": _("Scales with"),
            "is_pair": _("Takes two people"), "is_roof": _("On the roof"),
            "needs_licence": _("May need a license"), "is_active": _("We do this"),
        }  # fmt: skip
        help_texts = {
            "code": _("Up to 8 characters, as printed."),
            "scales_with": _("In words: job, panel, controller, day …"),
        }

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        self.shop = shop
        super().__init__(*args, units=shop.units, **kwargs)
        if self.instance.code:
            self.fields["code"].disabled = True

    def clean_code(self) -> str:
        """Refuse a code that the shop has already."""
        code: str = self.cleaned_data["code"].strip().upper()
        if not self.fields["code"].disabled and code in codes_of(self.shop):
            raise forms.ValidationError(f"Code {code} is taken.")
        return code

    def clean(self) -> dict[str, Any]:
        """Refuse hours that do not rise from low over plan to high."""
        cleaned = super().clean()
        low, high = cleaned.get("low_h"), cleaned.get("high_h")
        plan = cleaned.get("plan_h")
        if low is not None and high is not None and low > high:
            self.add_error("high_h", _("The high hours must not be below the low ones."))
        elif plan is not None and low is not None and high is not None and not low <= plan <= high:
            self.add_error("plan_h", _("The plan must lie between low and high."))
        return cleaned


class TaxRateForm(WatchedForm, RecordForm[TaxRate]):
    """A sales tax, from which day, and of which lines."""

    fraction = PercentField(label=_("Rate"), high="0.5")
    from_date = forms.DateField(label=_("From"), widget=forms.DateInput(attrs={"type": "date"}))

    class Meta:
        model = TaxRate
        fields = [
            "name", "from_date", "fraction", "on_parts", "on_labour", "on_travel", "on_subcontract",
            "on_disposal",
        ]  # fmt: skip
        labels = {
            "name": _("Name"), "on_parts": _("Parts and consumables"), "on_labour": _("Labor"),
            "on_travel": _("Travel and call-out"), "on_subcontract": _("Subcontracts and allowances"),
            "on_disposal": _("Disposal"),
        }  # fmt: skip
        help_texts = {"name": _("As the books call it.")}

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        self.shop = shop
        super().__init__(*args, units=shop.units, **kwargs)

    def clean_from_date(self) -> Any:
        """Refuse a second rate of one day."""
        day = self.cleaned_data["from_date"]
        if TaxRate.objects.of_shop(self.shop).filter(from_date=day).exists():
            raise forms.ValidationError(f"There is a rate from {day.isoformat()} already.")
        return day


class ScopeTextForm(WatchedForm, RecordForm[ScopeText]):
    """A line of what is in and out."""

    class Meta:
        model = ScopeText
        fields = ["text", "answer", "note", "is_shown"]
        labels = {
            "text": _("Text"), "answer": _("Answer"), "note": _("Note"), "is_shown": _("On new quotes"),
        }  # fmt: skip
        help_texts = {"text": _("Up to 120 characters."), "note": _("Printed beside it.")}

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        self.shop = shop
        super().__init__(*args, units=shop.units, **kwargs)
        if not self.instance.key:
            answer = field_as(self, "answer", forms.ChoiceField)
            answer.choices = [one for one in ScopeText.Answer.choices if one[0] != ScopeText.Answer.AUTO]
