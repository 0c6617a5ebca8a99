"""What the owner may set about the shop."""

from __future__ import annotations

import zoneinfo
from typing import Any, Final

from django import forms
from django.utils.translation import gettext_lazy as _

from common.currency import CURRENCIES
from common.edit_conflicts import WatchedForm
from common.fields import NumberField, PercentField, SpeedField
from common.forms import RecordForm, field_as
from jobs.models import Shop

# Headings of the page and the fields under each.
GROUPS: Final[dict[str, list[str]]] = {
    "The business": ["name", "phone", "email", "address", "licence_text", "insurance_text"],
    "Units and wording": ["units", "paper", "currency", "time_zone"],
    "Rules": ["rule_set", "design_speed_mps", "alternator_idle_fraction"],
    "Shop policy": [
        "lithium_main_interrupt_a", "cold_volts_fraction", "foot_use_fraction", "cargo_left_fraction",
    ],
    "Photos": ["keeps_photo_position"],
    "Signing in": ["owners_need_second_factor"],
    "Tablets": ["technicians_take_all"],
    "Rates": ["labour_rate", "pair_rate", "labour_cost", "call_fee", "mile_rate", "mile_cost"],
    "Quotes": [
        "markup", "consumables_fraction", "deposit_fraction", "tax_fraction", "tax_on_parts", "tax_on_labour",
        "discount_lowers_tax", "quote_valid_days", "margin_caution", "margin_block",
    ],
    "Invoices": ["invoice_due_days", "payment_text"],
}  # fmt: skip


class ShopSettingsForm(WatchedForm, RecordForm[Shop]):
    """Everything a shop sets for itself."""

    currency = forms.ChoiceField(choices=[(code, code) for code in CURRENCIES])
    time_zone = forms.ChoiceField(help_text=_("Times on pages and papers are in this zone."))
    design_speed_mps = SpeedField(
        label=_("Design wind speed of panels"),
        low=20,
        high=100,
        usual=(33.528, 60.3504),  # 75 and 135 mph
        help_text=_(
            "Road speed and head wind together: ‹121 + 48 = 169 km/h|75 + 30 = 105 mph› is common practice."
        ),
    )
    alternator_idle_fraction = PercentField(
        label=_("Alternator output, idling hot"),
        low="0.1",
        help_text=_("Of its rating, if nobody measured it. The shop's own policy; half is common practice."),
    )
    lithium_main_interrupt_a = NumberField(
        label=_("Interrupting rating of a lithium main, at least"),
        unit="A",
        low=1000,
        high=200_000,
        usual=(10_000, 50_000),
        help_text=_(
            "Whatever the bank's size; more where the calculation asks for it. 20,000 A to begin with."
        ),
    )
    cold_volts_fraction = PercentField(
        label=_("Cold string voltage, at most"),
        low="0.5",
        help_text=_("Of the controller's PV voltage limit. Above this a caution, above the limit a block."),
    )
    foot_use_fraction = PercentField(
        label=_("Load on a panel foot, at most"),
        low="0.05",
        high="0.8",
        help_text=_("Of what its screws hold. Above this a caution, above 80% a block."),
    )
    cargo_left_fraction = PercentField(
        label=_("Cargo capacity left free, at least"),
        high="0.9",
        help_text=_("Of the label. Below this a caution."),
    )
    markup = PercentField(high="10", help_text=_("Added to the cost of parts."))
    consumables_fraction = PercentField(label=_("Consumables"), help_text=_("Of the cost of parts."))
    deposit_fraction = PercentField(
        label=_("Deposit"), help_text=_("Of the total, before parts are ordered.")
    )
    tax_fraction = PercentField(label=_("Sales tax"), high="0.5")
    margin_caution = PercentField(label=_("Caution under a margin of"), help_text=_("Gross margin."))
    margin_block = PercentField(label=_("Owner's approval under a margin of"), help_text=_("Gross margin."))

    class Meta:
        model = Shop
        fields = [name for names in GROUPS.values() for name in names]
        labels = {
            "email": _("E-mail"), "licence_text": _("License, as printed"),
            "insurance_text": _("Insurance, as printed"),
            "units": _("Units"), "paper": _("Paper size"), "rule_set": _("Ampacity rules for new designs"),
            "labour_rate": _("Labor, one person"), "pair_rate": _("Labor, two people"),
            "labour_cost": _("Labor cost to the shop"), "call_fee": _("Call-out fee"),
            "mile_rate": _("Travel, per ‹kilometer|mile›"),
            "mile_cost": _("Travel cost, per ‹kilometer|mile›"), "tax_on_parts": _("Parts are taxed"),
            "tax_on_labour": _("Labor is taxed"), "keeps_photo_position": _("Keep where a photo was taken"),
            "quote_valid_days": _("Quotes are good for, days"),
            "discount_lowers_tax": _("A discount lowers the tax"),
            "invoice_due_days": _("Invoices are due after, days"),
            "payment_text": _("How to pay, as printed"),
        }  # fmt: skip
        help_texts = {
            "keeps_photo_position": _(
                "Off: the place is removed, like all else a camera writes into its file."
            ),
            "call_fee": _("Call-out, including the first ‹kilometers|miles›"),
            "mile_rate": _("Charged per ‹kilometer|mile›"),
            "mile_cost": _("What a ‹kilometer|mile› costs the shop"),
            "rule_set": _("A design keeps the rules it was made with."),
            "quote_valid_days": _("1 to 365 days."),
            "discount_lowers_tax": _(
                "On where your state taxes the price after the discount; off where it taxes the price before."
            ),
            "invoice_due_days": _("0 to 365 days."),
            "payment_text": _(
                "Printed on every invoice: where to send a check, a bank account, a link. Card numbers never"
                " belong here."
            ),
        }
        widgets = {
            "address": forms.Textarea(attrs={"rows": 3}),
            "payment_text": forms.Textarea(attrs={"rows": 3}),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, units=kwargs["instance"].units, **kwargs)
        field_as(self, "time_zone", forms.ChoiceField).choices = [(name, name) for name in _zones()]
        for name in GROUPS["Rates"]:
            field_as(self, name, forms.DecimalField).max_value = 10_000

    def clean_quote_valid_days(self) -> int:
        """Refuse a term no quote has."""
        days: int = self.cleaned_data["quote_valid_days"]
        if not 1 <= days <= 365:
            raise forms.ValidationError(f"Quotes are good for 1 to 365 days; you typed {days}.")
        return days

    def clean(self) -> dict[str, Any]:
        """Refuse limits that contradict one another."""
        cleaned = super().clean()
        caution, block = cleaned.get("margin_caution"), cleaned.get("margin_block")
        if caution is not None and block is not None and block > caution:
            self.add_error("margin_block", _("The owner's limit must not be above the caution limit."))
        return cleaned

    def groups(self) -> list[tuple[str, list[forms.BoundField]]]:
        """Return the fields under their headings."""
        return [(title, [self[name] for name in names]) for title, names in GROUPS.items()]


def _zones() -> list[str]:
    """Return the time zones people live in, sorted; the old one-word names are left out."""
    return sorted(
        name for name in zoneinfo.available_timezones() if "/" in name and not name.startswith("Etc/")
    )
