"""What may be typed about a cable and about a fuse, breaker or switch; all of it may stay blank."""

from __future__ import annotations

from typing import Any, Final

from django.utils.translation import gettext as said
from django.utils.translation import gettext_lazy as _

import sizing
from jobs.forms.part_sheet import SheetForm, optional
from jobs.models import CableSheet, ProtectionSheet, Shop

Family = ProtectionSheet.Family
#: Ratings each family is made in, and the DC volts its standard or its usual form is made for; others are
#: asked about. ISO 8820-3 and -5, UL 248-15, IEC 60269-6 (10 x 38); strip and post: no standard. [A, A, V]
_MADE: Final = {
    Family.BLADE_MINI: (1, 30, 32),
    Family.BLADE: (1, 40, 32),
    Family.BLADE_MAXI: (20, 100, 32),
    Family.BOLT_SMALL: (23, 200, 58),
    Family.BOLT_LARGE: (40, 500, 80),
    Family.STRIP: (35, 750, 80),
    Family.POST: (30, 300, 58),
    Family.CLASS_T: (1, 1200, 170),
    Family.GPV: (1, 32, 1000),
}


class CableSheetForm(SheetForm):
    """A cable's gauge, family, conductors, volts and temperature."""

    may_be_empty = True

    rated_v = optional(_("Rated voltage"), "V", 3000, (50, 2000))
    insulation_c = optional(_("Temperature rating, °C"), "", 250, (60, 150))

    class Meta:
        model = CableSheet
        fields = ["size", "standard", "family", "conductors", "rated_v", "insulation_c"]
        labels = {
            "size": _("Gauge"), "standard": _("Gauge counted in"), "family": _("Family"),
            "conductors": _("Conductors"),
        }  # fmt: skip
        help_texts = {"size": _("10, 2/0, 250 kcmil, or 16 where it is counted in mm²."), "conductors": ""}

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        super().__init__(*args, shop=shop, **kwargs)
        self.fields["standard"].required = False  # as the shop counts, as long as nobody looked
        if not self.instance.pk and shop.units == Shop.Units.METRIC:
            self.initial["standard"] = CableSheet.Standard.METRIC

    def clean_standard(self) -> str:
        """Take the shop's own way to count where none was chosen."""
        return self.cleaned_data["standard"] or str(self.initial["standard"])

    def clean_conductors(self) -> int | None:
        """Refuse a bundle that is no cable of this work."""
        count: int | None = self.cleaned_data["conductors"]
        if count is not None and not 1 <= count <= 40:
            self.add_error("conductors", f"Conductors must be 1 to 40; you typed {count}.")
        return count

    def clean(self) -> dict[str, Any]:
        """Write the gauge as its standard prints it; refuse one that no table has."""
        cleaned = super().clean()
        if not cleaned.get("size") or not cleaned.get("standard"):
            return cleaned
        try:
            found = sizing.conductor(cleaned["size"], cleaned["standard"])
        except sizing.InputOutOfRange as problem:
            sizes = problem.message.rpartition("sizes are ")[2]
            words = said("No cable of gauge “{size}” in {standard}; gauges are {sizes}.")
            counted = CableSheet.Standard(cleaned["standard"]).label
            self.add_error("size", words.format(size=cleaned["size"], standard=counted, sizes=sizes))
            return cleaned
        cleaned["size"], cleaned["standard"] = found.label, found.standard.value
        return cleaned


class ProtectionSheetForm(SheetForm):
    """What a fuse, breaker or switch carries, stands and breaks."""

    may_be_empty = True

    rated_a = optional(_("Rated current"), "A", 2000, (0.5, 800))
    rated_v = optional(_("Rated voltage, DC"), "V", 2000, (12, 1000))
    interrupt_ka = optional(
        _("Interrupting rating, DC"), "kA", 300, (0.5, 100), _("At its rated volts, as the sheet prints it.")
    )

    class Meta:
        model = ProtectionSheet
        fields = ["family", "rated_a", "rated_v", "interrupt_ka", "poles"]
        labels = {"family": _("Family"), "poles": _("Poles")}

    def clean_poles(self) -> int | None:
        """Refuse a device that nobody builds."""
        count: int | None = self.cleaned_data["poles"]
        if count is not None and not 1 <= count <= 6:
            self.add_error("poles", f"Poles must be 1 to 6; you typed {count}.")
        return count

    def odd_values(self, cleaned: dict[str, Any]) -> dict[str, str]:
        """Ask about a rating the family is not made in, and about volts above those it is made for."""
        family = cleaned.get("family")
        if family not in _MADE:
            return {}
        low, high, volts = _MADE[Family(family)]
        rated_a, rated_v = cleaned.get("rated_a"), cleaned.get("rated_v")
        found = {}
        words = Family(family).label
        if rated_a is not None and not low <= rated_a <= high:
            found["rated_a"] = f"{words}: rated current {rated_a:g} A (made from {low} to {high} A)"
        if rated_v is not None and rated_v > volts:
            found["rated_v"] = f"{words}: rated voltage {rated_v:g} V DC (made for up to {volts} V)"
        return found
