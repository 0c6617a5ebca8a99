"""What may be typed about a part that comes with another."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from jobs.forms.amounts import AmountField
from jobs.models import KitItem, Part, Shop


class KitItemForm(forms.Form):
    """Which part, how many, and of what it is counted."""

    sku = forms.CharField(label=_("Stock code"), max_length=40)
    quantity = AmountField(
        label=_("Quantity"), unit="", low="0.001", high="10000", places=3,
        help_text=_("0.1 for each unit of a cable: one every ‹10 m|10 ft›."),
    )  # fmt: skip
    per = forms.ChoiceField(label=_("Counted"), choices=KitItem.Per.choices)

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        self.shop = shop
        super().__init__(*args, **kwargs)

    def clean_sku(self) -> Part:
        """Return the part of this stock code."""
        sku: str = self.cleaned_data["sku"].strip()
        part = Part.objects.of_shop(self.shop).filter(sku__iexact=sku).first()
        if part is None:
            raise forms.ValidationError(f"Stock code {sku} is not in the catalog.")
        return part
