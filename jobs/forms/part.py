"""What may be typed about a part and its data sheet. Usual ranges are common practice, no source."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

from django import forms
from django.utils.translation import gettext_lazy as _

import sizing
from common.edit_conflicts import WatchedForm
from common.fields import LengthField, MassField, NumberField, PercentField
from common.forms import RecordForm, field_as
from common.told import told_later
from jobs.forms.amounts import AmountField
from jobs.forms.charge_fields import STOP_HELP, STOP_LABEL, stop_field
from jobs.forms.part_sheet import INPUT_VOLTS, OUTER, InputVoltsForm, SheetForm, needed, optional, outer
from jobs.forms.part_wiring import CableSheetForm, ProtectionSheetForm
from jobs.models import (
    BatterySheet,
    ChargerSheet,
    ControllerSheet,
    InverterSheet,
    PanelSheet,
    Part,
    Shop,
    Supplier,
)

#: How a part is counted, sold and put on a quote; a stored unit that is none of these stays.
UNITS: Final = [
    ("each", _("each")), ("ft", _("foot")), ("m", _("meter")), ("roll", _("roll")), ("tube", _("tube")),
    ("box", _("box")), ("pack", _("pack")), ("pair", _("pair")), ("set", _("set")), ("sheet", _("sheet")),
    ("bottle", _("bottle")), ("lb", _("pound")), ("kg", _("kilogram")),
]  # fmt: skip
_UNIT_WORDS: Final = dict(UNITS)
#: Not offered to a shop of the other system, but kept where a part or a table has it.
_OF_THE_OTHER: Final[dict[str, set[str]]] = {"imperial": {"m", "kg"}, "metric": {"ft", "lb"}}
_NO_SUPPLIER: Final = _("No supplier of this name is in the price book.")
MOST_LEAD_DAYS: Final = 365
FIXED_STOP: Final = _("If its data sheet gives a fixed value; blank: it can be set.")


@dataclass
class Beside:
    """What stands in the catalog beside a part, read once for a long table."""

    skus: dict[str, Part]
    numbers: dict[tuple[int, str], Part]
    suppliers: dict[int, Supplier]

    @classmethod
    def of_shop(cls, shop: Shop, parts: Iterable[Part]) -> Beside:
        """Return the parts by stock code and by supplier's number, and the suppliers by key."""
        listed = list(parts)
        return cls(
            {part.sku.casefold(): part for part in listed},
            {
                (part.supplier_id, part.supplier_number): part
                for part in listed
                if part.supplier_id is not None and part.supplier_number
            },
            {one.pk: one for one in Supplier.objects.of_shop(shop)},
        )


class SupplierChoice(forms.TypedChoiceField):
    """A supplier of those given, found without asking the database."""

    def __init__(self, suppliers: dict[int, Supplier], **kwargs: Any) -> None:
        choices = [("", "---------"), *((key, one.name) for key, one in suppliers.items())]
        super().__init__(
            choices=choices,
            coerce=lambda key: suppliers[int(key)],
            empty_value=None,
            required=False,
            **kwargs,
        )

    def has_changed(self, initial: Any, data: Any) -> bool:
        """Return whether another one was chosen."""
        return str(initial or "") != str(data or "")


class PartForm(WatchedForm, RecordForm[Part]):
    """What is bought and fitted."""

    mass_kg = MassField(label=_("Weight"), low=0, high=2000, usual=(0, 300), help_text=_("Of one unit."))
    unit = forms.ChoiceField(label=_("Unit"), choices=UNITS, help_text=_("How it is counted and sold."))
    pack_size = AmountField(
        label=_("Units in a pack"), unit="", low="0.001", high="100000", places=3, required=False,
        help_text=_("What the supplier sells at once: 100 for a roll of ‹100 m|100 ft›."),
    )  # fmt: skip
    why = forms.CharField(
        label=_("Why the cost changed"), max_length=160, required=False,
        help_text=_("Kept with the old and the new cost."),
    )  # fmt: skip

    field_order = [
        "sku", "name", "unit", "cost", "why", "mass_kg", "supplier", "supplier_number", "pack_size",
        "lead_days", "shelf",
    ]  # fmt: skip

    class Meta:
        model = Part
        fields = [
            "sku", "name", "unit", "cost", "supplier", "supplier_number", "pack_size", "lead_days", "shelf",
            "mass_kg", "warranty_months", "is_serial_tracked", "support_phone", "is_active",
        ]  # fmt: skip
        labels = {
            "sku": _("Stock code"), "cost": _("Cost to the shop"), "supplier": _("Supplier"),
            "supplier_number": _("Supplier's number"), "lead_days": _("Lead time, days"),
            "shelf": _("Place on the shelf"),
            "warranty_months": _("Maker's warranty, months"),
            "is_serial_tracked": _("Each one has a serial number"),
            "is_active": _("Still offered in new designs"),
        }  # fmt: skip
        help_texts = {
            "warranty_months": _("0 to 600 months."),
            "supplier_number": _("By it a price list of theirs finds the part."),
            "lead_days": _("From order to delivery, 0 to 365. Blank: as its supplier says."),
            "support_phone": _("Whom to call about this part; kept on the tablet, also without a network."),
        }  # fmt: skip

    def __init__(self, *args: Any, shop: Shop, beside: Beside | None = None, **kwargs: Any) -> None:
        self.shop, self.beside = shop, beside
        super().__init__(*args, units=shop.units, **kwargs)
        cost_help = f"In {shop.currency}, per unit. Never shown to technician or customer."
        self.fields["cost"].help_text = told_later(cost_help)
        field_as(self, "cost", forms.DecimalField).max_value = 1_000_000
        if beside is not None:
            self.fields["supplier"] = SupplierChoice(beside.suppliers, label=self.fields["supplier"].label)
        else:
            supplier = field_as(self, "supplier", forms.ModelChoiceField)
            supplier.queryset = Supplier.objects.of_shop(shop)
        self.fields["supplier"].error_messages["invalid_choice"] = _NO_SUPPLIER
        self.meets(self.instance)

    def meets(self, part: Part) -> None:
        """Offer the unit the part has, also where it is none of ours."""
        stored = [(part.unit, part.unit)] if part.unit and part.unit not in _UNIT_WORDS else []
        named = {part.unit, str(self.data.get(self.add_prefix("unit"), ""))}
        others = _OF_THE_OTHER[self.shop.units] - named
        own = [unit for unit in UNITS if unit[0] not in others]
        field_as(self, "unit", forms.ChoiceField).choices = [*stored, *own]

    def clean_pack_size(self) -> Decimal:
        """Take single units where nothing was typed."""
        return self.cleaned_data["pack_size"] or Decimal(1)

    def clean_lead_days(self) -> int | None:
        """Refuse a wait that is a mistake."""
        days: int | None = self.cleaned_data["lead_days"]
        if days is not None and days > MOST_LEAD_DAYS:
            raise forms.ValidationError(f"Lead time must be 0 to {MOST_LEAD_DAYS} days; you typed {days}.")
        return days

    def clean_supplier_number(self) -> str:
        """Return the number without blanks around it."""
        number: str = self.cleaned_data["supplier_number"]
        return number.strip()

    def clean(self) -> dict[str, Any]:
        """Refuse a supplier's number without its supplier, or one that another part carries."""
        cleaned = super().clean()
        supplier, number = cleaned.get("supplier"), cleaned.get("supplier_number")
        if number and supplier is None and "supplier" not in self.errors:
            self.add_error("supplier", _("Please choose the supplier whose number this is."))
        elif number and supplier is not None:
            other = self._with_number(supplier, number)
            if other is not None and other.pk != self.instance.pk:
                words = f"Number {number} of {supplier} is that of {other}, {other.sku}."
                self.add_error("supplier_number", words)
        return cleaned

    def _with_sku(self, sku: str) -> Part | None:
        if self.beside is not None:
            return self.beside.skus.get(sku.casefold())
        others = Part.objects.of_shop(self.shop).exclude(pk=self.instance.pk)
        return others.filter(sku__iexact=sku).first()

    def _with_number(self, supplier: Supplier, number: str) -> Part | None:
        if self.beside is not None:
            return self.beside.numbers.get((supplier.pk, number))
        others = Part.objects.of_shop(self.shop).exclude(pk=self.instance.pk)
        return others.filter(supplier=supplier, supplier_number=number).first()

    def clean_sku(self) -> str:
        """Refuse a stock code that another part of the shop carries."""
        sku: str = self.cleaned_data["sku"].strip()
        same = self._with_sku(sku)
        if same is not None and same.pk != self.instance.pk:
            raise forms.ValidationError(f"Stock code {sku} is taken by {same}.")
        return sku

    def clean_warranty_months(self) -> int | None:
        """Refuse a warranty that no maker gives."""
        months: int | None = self.cleaned_data["warranty_months"]
        if months is not None and months > 600:
            raise forms.ValidationError(f"Maker's warranty must be 0 to 600 months; you typed {months}.")
        return months


#: Without these a sheet cannot be judged.
_CONTRADICTED = ("pmp_w", "vmp_v", "imp_a", "voc_v", "isc_a", "length_m", "width_m", "thickness_m")


def _spec(cleaned: dict[str, Any]) -> sizing.PanelSpec:
    """Return what a panel's sheet says, as far as it can contradict itself."""
    return sizing.PanelSpec(
        name="",
        **{name: cleaned[name] for name in _CONTRADICTED},
        mass_kg=0.0,
        beta_voc_fraction_per_c=None,
        gamma_pmp_fraction_per_c=None,
        max_series_fuse_a=cleaned.get("max_series_fuse_a"),
        cells_in_series=cleaned.get("cells_in_series"),
    )


class PanelSheetForm(SheetForm):
    """A panel at 1000 W/m² and 25 °C, as its sheet prints it."""

    pmp_w = needed(_("Rated power Pmp"), "W", 1, 1000, (5, 750))
    vmp_v = needed(_("Voltage at maximum power Vmp"), "V", 1, 200, (5, 120))
    imp_a = needed(_("Current at maximum power Imp"), "A", 0.05, 40, (0.3, 25))
    voc_v = needed(_("Open-circuit voltage Voc"), "V", 1, 250, (6, 150))
    isc_a = needed(_("Short-circuit current Isc"), "A", 0.05, 45, (0.3, 27))
    length_m = LengthField(label=_("Length"), low=0.1, high=3, usual=(0.3, 2.5))
    width_m = LengthField(label=_("Width"), low=0.1, high=2, usual=(0.2, 1.4))
    thickness_m = LengthField(
        label=_("Frame height"), low=0.001, high=0.2, usual=(0.002, 0.06), initial=0.035
    )
    beta_voc_percent_per_c = NumberField(
        label=_("Voc temperature coefficient"), unit="%/°C", low=-1, high=0, usual=(-0.5, -0.15),
        required=False, help_text=_("Negative. Blank: the code's table is used."),
    )  # fmt: skip
    gamma_pmp_percent_per_c = NumberField(
        label=_("Pmp temperature coefficient"), unit="%/°C", low=-1, high=0, usual=(-0.55, -0.2),
        required=False, help_text=_("Negative."),
    )  # fmt: skip
    alpha_isc_percent_per_c = NumberField(
        label=_("Isc temperature coefficient"),
        unit="%/°C",
        low=-0.2,
        high=0.5,
        usual=(0.0, 0.12),
        initial=0.05,
    )
    max_series_fuse_a = optional(_("Maximum series fuse"), "A", 100, (5, 50))

    class Meta:
        model = PanelSheet
        fields = [
            "pmp_w",
            "vmp_v",
            "imp_a",
            "voc_v",
            "isc_a",
            "length_m",
            "width_m",
            "thickness_m",
            "beta_voc_percent_per_c",
            "gamma_pmp_percent_per_c",
            "alpha_isc_percent_per_c",
            "max_series_fuse_a",
            "cells_in_series",
            "cell_columns",
            "cell_rows",
            "bypass_diodes",
            "is_half_cut",
            "is_flexible",
            "connector",
            "box_place",
        ]
        labels = {
            "cells_in_series": _("Cells in series"), "cell_columns": _("Cells along the length"),
            "cell_rows": _("Cells across the width"), "bypass_diodes": _("Bypass diodes"),
            "is_half_cut": _("Half-cut cells"),
            "is_flexible": _("Flexible"), "connector": _("Connector type and maker"),
            "box_place": _("Junction box"),
        }  # fmt: skip
        help_texts = {"cell_columns": "", "cell_rows": ""}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["box_place"].required = False  # the usual side, as long as nobody looked

    def clean_box_place(self) -> str:
        """Take the usual side where none was chosen."""
        return self.cleaned_data["box_place"] or PanelSheet.BoxPlace.SHORT

    def clean(self) -> dict[str, Any]:
        """Refuse a sheet that contradicts itself, at each of the fields that cannot go together."""
        cleaned = super().clean()
        if all(cleaned.get(name) for name in _CONTRADICTED):
            for found in sizing.sheet_contradictions(_spec(cleaned)):
                others = [str(self.fields[name].label) for name in found.fields[1:]]
                self.add_error(found.fields[0], f"{found.sentence}. Look also at: {', '.join(others)}.")
        return cleaned


class ControllerSheetForm(SheetForm):
    """A charge controller's limits."""

    pv_voltage_limit_v = needed(_("Maximum PV voltage"), "V", 10, 1000, (15, 600), _("Never to be exceeded."))
    rated_output_a = needed(_("Rated output current"), "A", 1, 400, (5, 200))
    pv_isc_limit_a = optional(_("Maximum PV short-circuit current"), "A", 400, (5, 200))
    start_margin_v = needed(
        _("Starts this far above battery"), "V", 0, 100, (0, 10), _("Common practice: 5 V for MPPT.")
    )
    run_margin_v = needed(_("Runs down to this far above battery"), "V", 0, 100, (0, 5))
    pv_power_limit_w = optional(
        _("Largest array"), "W", 100000, (50, 10000), _("If the maker allows no more.")
    )
    efficiency_fraction = PercentField(label=_("Efficiency"), low="0.5")
    low_t_stop_c = stop_field(FIXED_STOP)
    length_m = outer(_("Outer length"))
    width_m = outer(_("Outer width"))
    height_m = outer(_("Outer depth"), _("Off the wall."))

    class Meta:
        model = ControllerSheet
        fields = [
            "principle",
            "pv_voltage_limit_v",
            "rated_output_a",
            "pv_isc_limit_a",
            "start_margin_v",
            "run_margin_v",
            "pv_power_limit_w",
            "efficiency_fraction",
            "has_low_t_stop",
            "low_t_stop_c",
            *OUTER,
        ]
        labels = {"has_low_t_stop": STOP_LABEL}
        help_texts = {"has_low_t_stop": STOP_HELP}


class BatterySheetForm(SheetForm):
    """A battery's limits, each battery."""

    length_m = outer(_("Outer length"), _("With its terminals."))
    width_m = outer(_("Outer width"))
    height_m = outer(_("Outer height"))
    nominal_v = needed(_("Nominal voltage"), "V", 1, 120, (6, 52))
    capacity_ah = needed(_("Capacity"), "Ah", 1, 2000, (20, 600), _("At the rate below."))
    max_charge_a = optional(_("Maximum charge current"), "A", 2000, (5, 400))
    max_discharge_a = optional(_("Maximum continuous discharge current"), "A", 2000, (10, 500))
    max_peak_discharge_a = optional(
        _("Peak discharge, a few seconds"), "A", 20000, (20, 2000), _("What a motor may draw as it starts.")
    )
    absorb_low_v = optional(_("Maker's charge volts, from"), "V", 100, (6, 60), _("Of one battery."))
    absorb_high_v = optional(_("Maker's charge volts, to"), "V", 100, (6, 60), _("Of one battery."))
    rated_hours_h = needed(_("Capacity printed at"), "h", 1, 200, (5, 100), _("Lead: 20 h is usual."))
    peukert_k = NumberField(
        label=_("Peukert exponent"), low=1, high=2, usual=(1.0, 1.4), required=False,
        help_text=_("Blank: usual for the chemistry."),
    )  # fmt: skip
    short_circuit_a = optional(
        _("Prospective short-circuit current"),
        "A",
        50000,
        (500, 20000),
        _("Maker's figure for each battery; blank: worked out, its upper end counts."),
    )
    internal_resistance_mohm = optional(
        _("Internal resistance"),
        "mΩ",
        1000,
        (0.3, 20),
        _("Maker's figure for each battery; it sets what fuses must break."),
    )
    cca_a = optional(_("Cold cranking amps"), "A", 5000, (200, 1500), _("Lead, as printed on each battery."))
    heater_w = needed(_("Heater power"), "W", 0, 1000, (0, 300), _("Of one battery."))

    class Meta:
        model = BatterySheet
        fields = [
            "chemistry",
            "nominal_v",
            "capacity_ah",
            "max_charge_a",
            "max_discharge_a",
            "max_peak_discharge_a",
            "absorb_low_v",
            "absorb_high_v",
            "short_circuit_a",
            "internal_resistance_mohm",
            "cca_a",
            "is_heated",
            "heater_w",
            "rated_hours_h",
            "peukert_k",
            *OUTER,
        ]
        labels = {"is_heated": _("Heats itself before charging in frost")}


class InverterSheetForm(InputVoltsForm):
    """An inverter's limits."""

    power_w = needed(_("Continuous power"), "W", 50, 20000, (150, 6000))
    surge_w = optional(_("Surge power"), "W", 60000, (150, 15000))
    surge_s = optional(_("Surge lasts"), "s", 3600, (0.02, 60))
    idle_w = needed(_("Idle draw"), "W", 0, 300, (2, 80))
    efficiency_fraction = PercentField(label=_("Efficiency"), low="0.5")
    max_fuse_a = optional(_("Largest DC fuse the manual allows"), "A", 2000, (20, 600))
    charge_a = optional(_("Output as a charger"), "A", 400, (10, 200), _("Where it also charges."))
    low_t_stop_c = stop_field(FIXED_STOP)
    length_m = outer(_("Outer length"))
    width_m = outer(_("Outer width"))
    height_m = outer(_("Outer depth"), _("Off the wall."))

    class Meta:
        model = InverterSheet
        fields = [
            "power_w",
            "surge_w",
            "surge_s",
            *INPUT_VOLTS,
            "idle_w",
            "efficiency_fraction",
            "max_fuse_a",
            "is_charger",
            "charge_a",
            "has_low_t_stop",
            "low_t_stop_c",
            *OUTER,
        ]
        labels = {"is_charger": _("Also charges from shore"), "has_low_t_stop": STOP_LABEL}
        help_texts = {"has_low_t_stop": STOP_HELP}


class ChargerSheetForm(InputVoltsForm):
    """A charger's limits."""

    output_a = needed(_("Rated output current"), "A", 1, 400, (5, 150))
    lockout_v = optional(_("Stops below input voltage"), "V", 100, (8, 50), _("DC-DC only."))
    low_t_stop_c = stop_field(FIXED_STOP)

    class Meta:
        model = ChargerSheet
        fields = [
            "kind", "output_a", "lockout_v", "has_low_t_stop", "low_t_stop_c", "has_lithium_profile",
            *INPUT_VOLTS,
        ]  # fmt: skip
        labels = {
            "kind": _("What it charges from"),
            "has_low_t_stop": STOP_LABEL,
            "has_lithium_profile": _("Has a lithium profile"),
        }  # fmt: skip
        help_texts = {"has_low_t_stop": STOP_HELP}


SHEET_FORMS: dict[str, type[SheetForm]] = {
    Part.Kind.PANEL: PanelSheetForm,
    Part.Kind.CONTROLLER: ControllerSheetForm,
    Part.Kind.BATTERY: BatterySheetForm,
    Part.Kind.INVERTER: InverterSheetForm,
    Part.Kind.CHARGER: ChargerSheetForm,
    Part.Kind.CABLE: CableSheetForm,
    Part.Kind.PROTECTION: ProtectionSheetForm,
}
