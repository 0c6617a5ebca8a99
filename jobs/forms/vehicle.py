"""What may be typed about a vehicle. Usual ranges are common practice; outside them we ask."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from common.edit_conflicts import WatchedForm
from common.fields import LengthField, MassField, VolumeField
from common.forms import RecordForm, field_as
from common.told import Words, told_later
from jobs.customers.vin import vin_check_digit, vin_has_shape
from jobs.forms.survey_fields import YES_NO_UNKNOWN
from jobs.models import Shop, Vehicle

_OLDEST_USUAL_YEAR = 1965


def _mass(
    label: Words, high: float = 20000, usual: tuple[float, float] = (50, 9000), text: Words = ""
) -> MassField:
    return MassField(label=label, low=0, high=high, usual=usual, required=False, help_text=text)


class VehicleForm(WatchedForm, RecordForm[Vehicle]):
    """A vehicle: kind and one way to know it again; what it weighs may come at the survey."""

    year = forms.IntegerField(required=False, min_value=1930, label=_("Model year"))
    length_m = LengthField(label=_("Outside length"), low=1, high=18, usual=(2.4, 13.7), required=False)
    overall_height_m = LengthField(
        label=_("Overall height now"),
        low=1,
        high=6,
        usual=(1.5, 4.3),
        required=False,
        help_text=_("Highest point."),
    )
    height_limit_m = LengthField(
        label=_("Warn above height"), low=1.5, high=6, usual=(1.5, 4.3), help_text=_("Array included.")
    )
    wheelbase_m = LengthField(
        label=_("Wheelbase, or hitch to axle"), low=0.5, high=12, usual=(1.5, 9), required=False
    )
    gvwr_kg = _mass("GVWR", 40000, (300, 25000), "Gross vehicle weight rating, from the label.")
    rear_overhang_m = LengthField(
        label=_("Rear axle to the rear edge of the roof"),
        low=0,
        high=12,
        usual=(0.3, 5),
        required=False,
        help_text=_("From the drive axle; on a trailer from the middle of its axles."),
    )
    tag_spacing_m = LengthField(
        label=_("Drive axle to tag axle"), low=0.5, high=4, usual=(1, 1.8), required=False
    )
    gawr_front_kg = _mass("GAWR front", text="On a trailer with two axles: the first.")
    gawr_rear_kg = _mass("GAWR rear")
    gawr_tag_kg = _mass("GAWR third (tag) axle")
    hitch_limit_kg = _mass(
        "Hitch, pin or coupling limit",
        usual=(25, 3000),
        text="The lowest rating on any plate, vehicle or trailer.",
    )
    uvw_kg = _mass("UVW", 40000, (100, 20000), "Unloaded weight, from the label.")
    cargo_label_kg = _mass("Cargo capacity label", usual=(0, 9000))
    scale_front_kg = _mass("Scale: front axle, hitch or pin")
    scale_rear_kg = _mass("Scale: rear axle or axles")
    fresh_water_l = VolumeField(label=_("Fresh water tank"), low=0, high=2000, usual=(0, 760), required=False)

    class Meta:
        model = Vehicle
        fields = [
            "kind", "year", "make_text", "vin", "plate", "is_lived_in", "length_m", "overall_height_m",
            "height_limit_m", "wheelbase_m", "rear_overhang_m", "tag_spacing_m", "fresh_water_l", "gvwr_kg",
            "gawr_front_kg", "gawr_rear_kg", "gawr_tag_kg", "hitch", "hitch_limit_kg", "uvw_kg",
            "cargo_label_kg", "cargo_label_type", "scale_ticket_date", "scale_is_loaded", "scale_front_kg",
            "scale_rear_kg", "roof_warranty_until",
        ]  # fmt: skip
        labels = {
            "vin": _("VIN or maker's serial"), "plate": _("License plate"),
            "is_lived_in": _("Somebody lives in it"),
            "cargo_label_type": _("What the cargo label says"), "scale_ticket_date": _("Scale ticket date"),
            "hitch": _("Kind of hitch"), "scale_is_loaded": _("Weighed with people, water and things aboard"),
            "roof_warranty_until": _("Roof or vehicle warranty until"),
        }  # fmt: skip
        help_texts = {
            "cargo_label_type": _(
                "On labels since June 2008 water counts as cargo; the survey asks for the label's date."
            ),
            "hitch": _("For a trailer. Under the metric rules a trailer counts as a European caravan."),
            "scale_is_loaded": _("As it travels."),
            "vin": _("A VIN has 17 characters, never I, O or Q. A slide-in camper has a shorter serial."),
        }
        widgets = {
            "scale_ticket_date": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
            "roof_warranty_until": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        }

    def __init__(self, *args: Any, shop: Shop, today: date, **kwargs: Any) -> None:
        self.shop, self.today = shop, today
        super().__init__(*args, units=shop.units, **kwargs)
        if "scale_is_loaded" in self.fields:
            field_as(self, "scale_is_loaded", forms.NullBooleanField).widget.choices = YES_NO_UNKNOWN
        self.fields["year"].help_text = told_later(f"{_OLDEST_USUAL_YEAR} to {today.year + 1}.")

    def clean_year(self) -> int | None:
        """Refuse a model year that cannot be out yet."""
        year: int | None = self.cleaned_data["year"]
        if year is not None and year > self.today.year + 1:
            raise forms.ValidationError(
                f"Model year must be at most {self.today.year + 1}; you typed {year}."
            )
        return year

    def clean_vin(self) -> str:
        """Return the VIN in capitals; refuse one that cannot be a VIN or is already on file."""
        vin: str = "".join(self.cleaned_data["vin"].upper().split())
        if len(vin) == 17 and not vin_has_shape(vin):
            raise forms.ValidationError(
                _("A VIN of 17 characters has letters and digits only, never I, O or Q (49 CFR 565).")
            )
        same = Vehicle.objects.of_shop(self.shop).filter(vin=vin).exclude(pk=self.instance.pk)
        known = same.select_related("customer").first() if vin else None
        if known is not None:
            raise forms.ValidationError(f"{vin} is on file already: {known}, {known.customer}.")
        return vin

    def clean_plate(self) -> str:
        """Return the plate in capitals, as it is searched for."""
        return " ".join(str(self.cleaned_data["plate"]).upper().split())

    def odd_values(self, cleaned: dict[str, Any]) -> dict[str, str]:
        """Ask about a year before the usual, a check digit that does not fit, a label above the rating."""
        odd = {}
        year, vin = cleaned.get("year"), cleaned.get("vin") or ""
        if year and year < _OLDEST_USUAL_YEAR:
            odd["year"] = f"Model year {year} (usual: {_OLDEST_USUAL_YEAR} or later)"
        if vin_has_shape(vin) and vin[8] != vin_check_digit(vin):
            odd["vin"] = f"VIN {vin}: its check digit should be {vin_check_digit(vin)}but is {vin[8]}"
        return odd | self._odd_weights(cleaned)

    @staticmethod
    def _odd_weights(cleaned: dict[str, Any]) -> dict[str, str]:
        """Ask about weights that contradict one another."""
        gvwr, uvw, cargo = (cleaned.get(name) for name in ("gvwr_kg", "uvw_kg", "cargo_label_kg"))
        if gvwr and uvw and uvw >= gvwr:
            return {"uvw_kg": "UVW is not below GVWR"}
        if gvwr and cargo and cargo >= gvwr:
            return {"cargo_label_kg": "Cargo capacity is not below GVWR"}
        return {}


class IntakeVehicleForm(VehicleForm):
    """The vehicle as known on the telephone."""

    class Meta(VehicleForm.Meta):
        fields = [
            "kind",
            "year",
            "make_text",
            "vin",
            "plate",
            "is_lived_in",
            "length_m",
            "roof_warranty_until",
        ]

    overall_height_m = height_limit_m = wheelbase_m = fresh_water_l = None  # type: ignore[assignment]  # leaves fields out
    gvwr_kg = gawr_front_kg = gawr_rear_kg = uvw_kg = cargo_label_kg = None  # type: ignore[assignment]  # leaves fields out
    scale_front_kg = scale_rear_kg = None  # type: ignore[assignment]  # leaves fields out
    rear_overhang_m = tag_spacing_m = gawr_tag_kg = hitch_limit_kg = None  # type: ignore[assignment]  # leaves fields out
