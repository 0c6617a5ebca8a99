"""What may be typed about a supplier."""

from __future__ import annotations

from typing import Any, Final

from django import forms
from django.utils.translation import gettext_lazy as _

from common.edit_conflicts import WatchedForm
from common.forms import RecordForm
from jobs.models import Shop, Supplier

MOST_LEAD_DAYS: Final = 365


class SupplierForm(WatchedForm, RecordForm[Supplier]):
    """Somebody the shop buys from."""

    class Meta:
        model = Supplier
        fields = ["name", "account_no", "phone", "email", "lead_days"]
        labels = {
            "name": _("Name"), "account_no": _("Our account there"), "phone": _("Phone"),
            "email": _("E-mail"), "lead_days": _("Lead time, days"),
        }  # fmt: skip
        help_texts = {"lead_days": _("From order to delivery, 0 to 365, where a part says nothing.")}

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        self.shop = shop
        super().__init__(*args, units=shop.units, **kwargs)

    def clean_name(self) -> str:
        """Refuse the name of another supplier."""
        name: str = self.cleaned_data["name"].strip()
        same = Supplier.objects.of_shop(self.shop).filter(name__iexact=name).exclude(pk=self.instance.pk)
        if same.exists():
            raise forms.ValidationError(f"There is a supplier called {name} already.")
        return name

    def clean_lead_days(self) -> int | None:
        """Refuse a wait that is a mistake."""
        days: int | None = self.cleaned_data["lead_days"]
        if days is not None and days > MOST_LEAD_DAYS:
            raise forms.ValidationError(f"Lead time must be 0 to {MOST_LEAD_DAYS} days; you typed {days}.")
        return days
