"""Turns parts and chargers of a design into what the sizing face is told: panels, power, sources."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final

import sizing
from jobs.models import (
    ChargerSheet,
    ControllerSheet,
    Design,
    DesignBank,
    DesignController,
    DesignInverter,
    DesignSource,
    ExistingItem,
    InverterSheet,
    PanelSheet,
    Part,
    Survey,
)
from jobs.parts.panel_model import PanelFacts, PanelModel
from jobs.shop.refusals import Refusal

#: What a controller or charger with a low-temperature stop is planned to be set to; shop default. [°C]
LOW_T_STOP_C: Final = 5.0
#: What a charger is planned to be set to where nobody says otherwise, per 12 V; shop defaults. [V]
PLANNED_ABSORB_V: Final[Mapping[str, float]] = {"lfp": 14.2, "agm": 14.4, "gel": 14.1, "flooded": 14.4}
_SOURCE_KINDS: Final[Mapping[str, sizing.SourceKind]] = {
    ExistingItem.Kind.CONVERTER: sizing.SourceKind.CONVERTER,
    ExistingItem.Kind.INVERTER_CHARGER: sizing.SourceKind.INVERTER_CHARGER,
    ExistingItem.Kind.GENERATOR: sizing.SourceKind.GENERATOR,
    ExistingItem.Kind.DC_DC: sizing.SourceKind.DC_DC,
    ExistingItem.Kind.TOW_WIRE: sizing.SourceKind.TOW_CHARGE_WIRE,
    ExistingItem.Kind.ISOLATOR: sizing.SourceKind.RELAY,
}
#: Kinds of existing equipment that charge the house bank when kept.
CHARGING_KINDS: Final = tuple(_SOURCE_KINDS)


class DesignIncomplete(Refusal):
    """A record cannot be put to the sizing face; says which one and what it lacks."""


def sheet_of(part: Part | PanelModel, name: str) -> Any:
    """Return a part's data sheet; raise DesignIncomplete when it has none."""
    sheet = getattr(part, name, None)
    if sheet is None:
        raise DesignIncomplete(f"“{part.name}” has no data sheet in the catalog: fill it in first.")
    return sheet


def panel_spec(part: Part | PanelModel) -> sizing.PanelSpec:
    """Return a panel's data sheet for the sizing face; percent per °C becomes a fraction."""
    sheet = sheet_of(part, "panel_sheet")
    return sizing.PanelSpec(
        name=part.name,
        pmp_w=sheet.pmp_w,
        vmp_v=sheet.vmp_v,
        imp_a=sheet.imp_a,
        voc_v=sheet.voc_v,
        isc_a=sheet.isc_a,
        length_m=sheet.length_m,
        width_m=sheet.width_m,
        thickness_m=sheet.thickness_m,
        mass_kg=part.mass_kg,
        beta_voc_fraction_per_c=_fraction(sheet.beta_voc_percent_per_c),
        gamma_pmp_fraction_per_c=_fraction(sheet.gamma_pmp_percent_per_c),
        alpha_isc_fraction_per_c=sheet.alpha_isc_percent_per_c / 100,
        max_series_fuse_a=sheet.max_series_fuse_a,
        cells_in_series=sheet.cells_in_series,
        bypass_diodes=sheet.bypass_diodes,
        is_half_cut=sheet.is_half_cut,
        is_flexible=sheet.is_flexible,
        connector=sheet.connector,
        single_diode=single_diode(sheet),
    )


def single_diode(sheet: PanelSheet | PanelFacts) -> sizing.SingleDiode | None:
    """Return the stored single-diode model of a sheet while it belongs to what the sheet says."""
    curve = sheet.curve
    if not curve or any(getattr(sheet, name) != value for name, value in curve["rests_on"].items()):
        return None
    return sizing.SingleDiode(**curve["parameters"])


def only_of(design: Design, name: str) -> Any:
    return getattr(design, name, None)


def _fraction(percent: float | None) -> float | None:
    return None if percent is None else percent / 100


def controller_input(controller: DesignController) -> sizing.ControllerInput:
    sheet = sheet_of(controller.part, "controller_sheet")
    return sizing.ControllerInput(
        id=controller.label,
        name=controller.part.name,
        kind=sizing.ControllerKind(sheet.principle),
        pv_voltage_limit_v=sheet.pv_voltage_limit_v,
        rated_output_a=sheet.rated_output_a,
        pv_isc_limit_a=sheet.pv_isc_limit_a,
        start_margin_v=sheet.start_margin_v,
        run_margin_v=sheet.run_margin_v,
        pv_power_limit_w=sheet.pv_power_limit_w,
        efficiency_fraction=sheet.efficiency_fraction,
        low_t_stop_c=stated_stop_c(sheet),
        temp_comp_mv_per_c=controller.temp_comp_mv_per_c,
        absorb_v=planned_absorb_v(controller.design, controller.absorb_v),
        mass_kg=controller.part.mass_kg,
    )


def stated_stop_c(sheet: ControllerSheet | InverterSheet | ChargerSheet) -> float | None:
    """Return where a charger stops in the cold [°C]: only what its data sheet states, the maker's own value
    or the one the shop sets; None where the sheet states no stop."""
    if sheet.low_t_stop_c is not None:
        return sheet.low_t_stop_c
    return LOW_T_STOP_C if sheet.has_low_t_stop else None


def planned_absorb_v(design: Design, set_v: float | None) -> float | None:
    """Return the absorption voltage to set [V]: as planned for the unit, else the shop's for the bank."""
    if set_v is not None:
        return set_v
    sheet = getattr(getattr(only_of(design, "bank"), "part", None), "battery_sheet", None)
    if sheet is None:
        return None
    return PLANNED_ABSORB_V[sheet.chemistry] * design.job.survey.v_nominal_v / 12.0


def bank_input(bank: DesignBank, survey: Survey) -> sizing.BankInput:
    sheet = sheet_of(bank.part, "battery_sheet")
    return sizing.BankInput(
        chemistry=sizing.Chemistry(sheet.chemistry),
        unit_nominal_v=sheet.nominal_v,
        unit_capacity_ah=sheet.capacity_ah,
        quantity=bank.quantity,
        in_series=bank.in_series,
        max_charge_a=sheet.max_charge_a,
        max_discharge_a=sheet.max_discharge_a,
        unit_mass_kg=bank.part.mass_kg if bank.is_new else 0.0,
        max_peak_discharge_a=sheet.max_peak_discharge_a,
        maker_absorb_low_v=sheet.absorb_low_v,
        maker_absorb_high_v=sheet.absorb_high_v,
        tmin_c=survey.battery_tmin_c,
        is_kept_warm=survey.battery_is_kept_warm,
        is_heated=sheet.is_heated,
        heater_w=sheet.heater_w * bank.quantity,
        is_inside=survey.battery_is_inside,
        short_circuit_a=_whole_bank_a(bank, sheet.short_circuit_a),
        internal_resistance_ohm=_ohm(sheet.internal_resistance_mohm),
        cca_a=sheet.cca_a,
        depth_of_discharge_fraction=bank.depth_of_discharge_fraction,
        rated_hours_h=sheet.rated_hours_h,
        peukert_k=sheet.peukert_k,
    )


def _whole_bank_a(bank: DesignBank, short_circuit_a: float | None) -> float | None:
    """Return what the whole bank gives [A]: a sheet speaks of one battery, and parallel ones add."""
    if short_circuit_a is None:
        return None
    return short_circuit_a * max(1, bank.quantity // max(1, bank.in_series))


def _ohm(milliohm: float | None) -> float | None:
    return None if milliohm is None else milliohm / 1000


def inverter_input(inverter: DesignInverter) -> sizing.InverterInput:
    sheet = sheet_of(inverter.part, "inverter_sheet")
    return sizing.InverterInput(
        name=inverter.part.name,
        power_w=sheet.power_w,
        idle_w=sheet.idle_w,
        hours_on_per_day=inverter.hours_on_per_day,
        efficiency_fraction=sheet.efficiency_fraction,
        surge_w=sheet.surge_w,
        max_fuse_a=sheet.max_fuse_a,
        mass_kg=inverter.part.mass_kg if inverter.is_new else 0.0,
    )


def inverter_as_charger(design: Design) -> Iterable[sizing.ChargeSourceInput]:
    """Yield the charging half of an inverter-charger whose amps are known; it has no mass of its own."""
    inverter = only_of(design, "inverter")
    sheet = getattr(getattr(inverter, "part", None), "inverter_sheet", None)
    if sheet is None or not sheet.is_charger or sheet.charge_a is None:
        return
    yield sizing.ChargeSourceInput(
        id="inverter",
        kind=sizing.SourceKind.INVERTER_CHARGER,
        name=f"{inverter.part.name} as charger",
        output_a=sheet.charge_a,
        absorb_v=planned_absorb_v(design, None),
        low_t_stop_c=stated_stop_c(sheet),
        temp_comp_mv_per_c=inverter.temp_comp_mv_per_c,
    )


def source_input(source: DesignSource) -> sizing.ChargeSourceInput:
    facts = _part_facts(source) if source.part else _existing_facts(source)
    return sizing.ChargeSourceInput(
        id=str(source.pk),
        name=str(source),
        limited_to_a=source.limited_to_a,
        excluded_with=("solar",) if source.is_interlocked_with_solar else (),
        input_v=source.input_v,
        alternator_rating_a=source.alternator_rating_a,
        driving_hours_per_day=source.driving_hours_per_day,
        shore_hours_per_day=source.shore_hours_per_day,
        **facts,
    )


def source_kind(source: DesignSource) -> sizing.SourceKind:
    """Return what kind of charger a source is, be it a part or a thing found on the vehicle."""
    if source.part:
        return sizing.SourceKind(sheet_of(source.part, "charger_sheet").kind)
    assert source.existing is not None  # a database constraint: a source has a part or an existing item
    return _SOURCE_KINDS.get(source.existing.kind, sizing.SourceKind.CONVERTER)


def _first(told: float | None, else_known: float | None) -> float | None:
    return else_known if told is None else told


def _part_facts(source: DesignSource) -> dict[str, Any]:
    part = source.part
    assert part is not None
    sheet = sheet_of(part, "charger_sheet")
    is_relay = source_kind(source) is sizing.SourceKind.RELAY  # it has nothing to set
    is_known = source.absorb_v is not None or (sheet.has_lithium_profile and not is_relay)
    return {
        "absorb_v": planned_absorb_v(source.design, source.absorb_v) if is_known else None,
        "kind": source_kind(source),
        "output_a": sheet.output_a,
        "lockout_v": sheet.lockout_v,
        "low_t_stop_c": _first(source.low_t_stop_c, stated_stop_c(sheet)),
        "temp_comp_mv_per_c": source.temp_comp_mv_per_c,
        "mass_kg": part.mass_kg,
    }


def _existing_facts(source: DesignSource) -> dict[str, Any]:
    item = source.existing
    assert item is not None  # a database constraint: a source has a part or an existing item
    output_a = item.rating_a if item.rating_a is not None else source.limited_to_a
    if output_a is None:
        raise DesignIncomplete(
            f"“{item}” is kept as a charger but its rated amps are not known: enter them in the survey."
        )
    return {
        "kind": source_kind(source),
        "output_a": output_a,
        "absorb_v": source.absorb_v,
        "equalise_on": item.equalises,
        "low_t_stop_c": _first(source.low_t_stop_c, item.low_t_stop_c),
        "temp_comp_mv_per_c": _first(source.temp_comp_mv_per_c, item.temp_comp_mv_per_c),
        "mass_kg": 0.0,
    }
