"""What may be asked: the range and unit of every field, and which names must point at something."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, fields
from types import MappingProxyType
from typing import Any, Final

from sizing.cable.conductors import CableStandard, conductor
from sizing.core.inputs import (
    BankInput,
    ChargeSourceInput,
    CircuitInput,
    ControllerInput,
    InputOutOfRange,
    InverterInput,
    LoadRow,
    OcpdInput,
    PanelSpec,
    PlacedPanel,
    PlugInput,
    RoofInput,
    SingleDiode,
    StringInput,
    SystemInput,
    TravelLeg,
    WeightInput,
)

MAX_TEXT: Final = 500  # characters of any name
MAX_ROWS: Final = 2000  # of anything there is a list of
#: Nothing measured on a vehicle is smaller than this unless it is nothing; saturation currents are. [any]
SMALLEST: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Range:
    """What a number may be. ``is_above`` keeps the lower end out (above 0, not 0 or more)."""

    low: float
    high: float
    unit: str = ""
    is_above: bool = False

    def words(self) -> str:
        """Return the range as it is said: ``above 0 and up to 100 m``."""
        if self.is_above:
            return f"above {self.low:g} and up to {self.high:g} {self.unit}".rstrip()
        return f"{self.low:g} to {self.high:g} {self.unit}".rstrip()

    def holds(self, value: float) -> bool:
        """Return whether a finite number lies within."""
        return (self.low < value if self.is_above else self.low <= value) and value <= self.high


def _above(high: float, unit: str) -> Range:
    return Range(0.0, high, unit, is_above=True)


_TEMP: Final = Range(-90.0, 100.0, "°C")
_SHARE: Final = Range(0.0, 1.0)
_MASS: Final = Range(0.0, 25_000.0, "kg")
_HOURS: Final = Range(0.0, 24.0, "h")

#: Range of every numeric field, by class. Physical bounds, wider than what a survey form asks about.
RANGES: Final = MappingProxyType(
    {
        SystemInput: {
            "v_nominal_v": Range(12.0, 48.0, "V"),
            "tmin_travel_c": _TEMP,
            "tmin_storage_c": _TEMP,
            "tmax_c": _TEMP,
            "autonomy_days": Range(0.0, 60.0, "days"),
            "k_sys": Range(0.0, 1.0, "", is_above=True),
            "design_month": Range(1, 12),
            "design_speed_mps": Range(0.0, 120.0, "m/s"),
        },
        LoadRow: {
            "power_w": Range(0.0, 100_000.0, "W"),
            "duty_fraction": _SHARE,
            "hours_per_day": _HOURS,
            "quantity": Range(0.0, 1000.0),
            "surge_factor": Range(1.0, 50.0),
        },
        TravelLeg: {
            "latitude_deg": Range(-90.0, 90.0, "°"),
            "longitude_deg": Range(-180.0, 180.0, "°"),
            "months": Range(1, 12),
            "altitude_m": Range(-500.0, 9000.0, "m"),
            "psh_h": Range(0.0, 15.0, "kWh/m²·day"),
            "clearness_kt": _SHARE,
            "tilt_deg": Range(0.0, 90.0, "°"),
            "tilt_uptake_fraction": _SHARE,
        },
        PanelSpec: {
            "pmp_w": _above(2000.0, "W"),
            "vmp_v": _above(1000.0, "V"),
            "imp_a": _above(100.0, "A"),
            "voc_v": _above(1000.0, "V"),
            "isc_a": _above(100.0, "A"),
            "length_m": _above(5.0, "m"),
            "width_m": _above(5.0, "m"),
            "thickness_m": Range(0.0, 0.5, "m"),
            "mass_kg": Range(0.0, 200.0, "kg"),
            "beta_voc_fraction_per_c": Range(-0.02, 0.02, "1/°C"),
            "gamma_pmp_fraction_per_c": Range(-0.02, 0.02, "1/°C"),
            "alpha_isc_fraction_per_c": Range(-0.02, 0.02, "1/°C"),
            "max_series_fuse_a": _above(200.0, "A"),
            "cells_in_series": Range(1, 400),
            "bypass_diodes": Range(0, 50),
        },
        SingleDiode: {
            "alpha_sc_a_per_c": Range(-0.2, 0.2, "A/°C"),
            "a_ref_v": Range(0.01, 50.0, "V"),
            "i_l_ref_a": Range(0.001, 100.0, "A"),
            "i_o_ref_a": Range(1e-30, 0.1, "A"),
            "r_s_ohm": Range(0.0, 1000.0, "Ω"),
            "r_sh_ref_ohm": Range(0.1, 1e12, "Ω"),
            "adjust_percent": Range(-100.0, 100.0, "%"),
            "eg_ref_ev": Range(0.5, 3.0, "eV"),
            "d_eg_dt_per_c": Range(-0.001, 0.001, "1/°C"),
        },
        PlacedPanel: {
            "x_m": Range(-2.0, 30.0, "m"),
            "y_m": Range(-2.0, 10.0, "m"),
            "feet": Range(0, 40),
            "fasteners_per_foot": Range(0, 40),
        },
        StringInput: {
            "fuse_a": _above(1000.0, "A"),
            "fuse_voltage_rating_v": _above(2000.0, "V"),
        },
        ControllerInput: {
            "pv_voltage_limit_v": _above(2000.0, "V"),
            "rated_output_a": _above(1000.0, "A"),
            "pv_isc_limit_a": _above(1000.0, "A"),
            "pv_power_limit_w": _above(100_000.0, "W"),
            "start_margin_v": Range(0.0, 50.0, "V"),
            "run_margin_v": Range(0.0, 50.0, "V"),
            "efficiency_fraction": Range(0.0, 1.0, "", is_above=True),
            "absorb_v": Range(5.0, 100.0, "V"),
            "low_t_stop_c": _TEMP,
            "mass_kg": _MASS,
        },
        BankInput: {
            "unit_nominal_v": Range(1.0, 100.0, "V"),
            "unit_capacity_ah": _above(10_000.0, "Ah"),
            "quantity": Range(1, 200),
            "in_series": Range(1, 50),
            "max_charge_a": _above(5000.0, "A"),
            "max_discharge_a": _above(5000.0, "A"),
            "max_peak_discharge_a": _above(20_000.0, "A"),
            "maker_absorb_low_v": Range(1.0, 100.0, "V"),
            "maker_absorb_high_v": Range(1.0, 100.0, "V"),
            "unit_mass_kg": _MASS,
            "tmin_c": _TEMP,
            "heater_w": Range(0.0, 5000.0, "W"),
            "short_circuit_a": _above(1e6, "A"),
            "depth_of_discharge_fraction": Range(0.0, 1.0, "", is_above=True),
            "peukert_k": Range(1.0, 2.0),
            "rated_hours_h": _above(200.0, "h"),
        },
        InverterInput: {
            "power_w": _above(50_000.0, "W"),
            "idle_w": Range(0.0, 1000.0, "W"),
            "hours_on_per_day": _HOURS,
            "efficiency_fraction": Range(0.1, 1.0),
            "surge_w": _above(200_000.0, "W"),
            "max_fuse_a": _above(5000.0, "A"),
            "mass_kg": _MASS,
        },
        ChargeSourceInput: {
            "output_a": _above(2000.0, "A"),
            "absorb_v": Range(5.0, 100.0, "V"),
            "float_v": Range(5.0, 100.0, "V"),
            "low_t_stop_c": _TEMP,
            "limited_to_a": Range(0.0, 2000.0, "A"),
            "input_v": Range(5.0, 100.0, "V"),
            "lockout_v": Range(5.0, 100.0, "V"),
            "alternator_rating_a": _above(2000.0, "A"),
            "driving_hours_per_day": _HOURS,
            "shore_hours_per_day": _HOURS,
            "mass_kg": _MASS,
        },
        OcpdInput: {
            "rating_a": _above(5000.0, "A"),
            "voltage_rating_v": _above(5000.0, "V"),
            "interrupting_a": _above(1e6, "A"),
            "distance_to_source_m": Range(0.0, 50.0, "m"),
        },
        CircuitInput: {
            "run_len_m": _above(100.0, "m"),
            "current_a": Range(0.0, 5000.0, "A"),
            "bundle_count": Range(1, 200),
            "ambient_c": Range(-60.0, 150.0, "°C"),
            "roof_clearance_m": Range(0.0, 5.0, "m"),
            "insulation_c": Range(60, 250, "°C"),
            "terminal_c": Range(60, 105, "°C"),
            "conductor_temp_c": Range(-60.0, 250.0, "°C"),
            "parallel_conductors": Range(1, 12),
        },
        PlugInput: {"rating_a": _above(500.0, "A")},
        RoofInput: {
            "length_m": _above(30.0, "m"),
            "width_m": _above(5.0, "m"),
            "deck_thickness_m": Range(0.0, 0.1, "m"),
            "rafter_spacing_m": _above(5.0, "m"),
            "feet_on_rafter": Range(0, 4000),
            "gland_screws": Range(0, 200),
            "cable_holes": Range(0, 200),
            "overall_height_m": _above(8.0, "m"),
            "height_limit_m": _above(8.0, "m"),
            "bond_area_m2": Range(0.0, 100.0, "m²"),
            "screws_per_rafter_foot": Range(0, 40),
            "fastener_tested_n": _above(100_000.0, "N"),
            "array_top_m": Range(0.0, 2.0, "m"),
            "skin_height_m": _above(8.0, "m"),
        },
        WeightInput: {
            "label_kg": Range(0.0, 25_000.0, "kg"),
            "fresh_water_kg": _MASS,
            "people_kg": _MASS,
            "customer_cargo_kg": _MASS,
            "added": _MASS,
            "removed": _MASS,
            "mass_points": Range(-25_000.0, 25_000.0, "kg or m"),
            "wheelbase_m": _above(20.0, "m"),
            "front_kg": _MASS,
            "rear_kg": _MASS,
            "front_limit_kg": _MASS,
            "rear_limit_kg": _MASS,
        },
    }
)

#: Fields whose number must be one of a few.
CHOICES: Final = MappingProxyType(
    {
        (SystemInput, "v_nominal_v"): (12.0, 24.0, 36.0, 48.0),
        (CircuitInput, "cable_standard"): tuple(each.value for each in CableStandard),
        (WeightInput, "label_type"): ("occc", "ccc"),
        (WeightInput, "hitch"): ("", "tongue", "pin"),
    }
)


def validate(system: SystemInput) -> None:
    """Refuse a question that cannot be asked; a bad design is no such question.

    Parameters
    ----------
    system : SystemInput
        One design, in SI units. [-]

    Returns
    -------
    None

    Raises
    ------
    InputOutOfRange
        If a number is not finite or outside its range, a list is too long, an id is empty or used twice,
        a name points at nothing, a size is in no table, or a data sheet contradicts itself. The message
        names the path, the limit, the unit and what came in.

    References
    ----------
    .. [1] Ranges are physical bounds of our own; sizes are those of the tables.
    """
    _check_fields(system, "", set())
    _check_ids(system)
    _check_links(system)
    for index, placed in enumerate(system.panels):
        _check_sheet(f"panels[{index}].panel", placed.panel)
    for index, circuit in enumerate(system.circuits):
        _check_size(f"circuits[{index}].size", circuit)
    if system.bank is not None and system.bank.quantity % system.bank.in_series:
        raise InputOutOfRange(
            "bank.in_series", f"must divide the {system.bank.quantity} batteries, got {system.bank.in_series}"
        )


def _check_fields(item: Any, path: str, seen: set[int]) -> None:
    """Check every field of a dataclass and of what it holds; the same data sheet is checked once."""
    owner, numbers = type(item), RANGES.get(type(item), {})
    for name in _names(owner):
        value = getattr(item, name)
        if name in numbers and not isinstance(value, tuple):
            _check_number(path, owner, name, value)
        elif isinstance(value, str):
            _check_text(path, owner, name, value)
        elif isinstance(value, tuple):
            _check_list(_joined(path, name), owner, name, value, seen)
        elif type(value) in RANGES and id(value) not in seen:
            seen.add(id(value))
            _check_fields(value, _joined(path, name), seen)


def _check_list(path: str, owner: type, name: str, values: tuple[Any, ...], seen: set[int]) -> None:
    if len(values) > MAX_ROWS:
        raise InputOutOfRange(path, f"must be at most {MAX_ROWS} entries, got {len(values)}")
    for index, value in enumerate(values):
        here = f"{path}[{index}]"
        if type(value) in RANGES:
            _check_fields(value, here, seen)
            continue
        for part in value if isinstance(value, tuple) else (value,):
            if isinstance(part, str):
                _check_text(here, owner, "", part)
            else:
                _check_number(here, owner, name, part, is_path=True)


def _check_number(path: str, owner: type, name: str, value: Any, *, is_path: bool = False) -> None:
    """Check one number; ``None`` is "not known" and always allowed."""
    if value is None:
        return
    allowed = RANGES[owner][name]
    here = path if is_path else _joined(path, name)
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise InputOutOfRange(here, f"must be a number, {allowed.words()}, got {type(value).__name__}")
    if isinstance(value, float) and not math.isfinite(value):
        raise InputOutOfRange(here, f"must be a finite number ({allowed.words()}), got {value}")
    if 0 < abs(value) < SMALLEST and allowed.low >= 0 and owner is not SingleDiode:
        raise InputOutOfRange(here, f"must be 0 or at least {SMALLEST:g}, got {value:g}")
    choices = CHOICES.get((owner, name))
    if choices is not None and value not in choices:
        listed = ", ".join(f"{choice:g}" for choice in choices)
        raise InputOutOfRange(here, f"must be one of {listed} {allowed.unit}, got {_short(value)}")
    if not allowed.holds(value):
        raise InputOutOfRange(here, f"must be {allowed.words()}, got {_short(value)}")


def _short(value: float) -> str:
    """A whole number of thousands of digits is not printed."""
    return f"{value:g}" if abs(value) < 1e300 else "a number of more than 300 digits"


def _joined(path: str, name: str) -> str:
    return f"{path}.{name}" if path else name


def _names(owner: Any) -> tuple[str, ...]:
    if owner not in _FIELD_NAMES:
        _FIELD_NAMES[owner] = tuple(each.name for each in fields(owner))
    return _FIELD_NAMES[owner]


_FIELD_NAMES: Final[dict[type, tuple[str, ...]]] = {}


def _check_text(path: str, owner: type, name: str, value: str) -> None:
    here = _joined(path, name) if name else path
    if len(value) > MAX_TEXT:
        raise InputOutOfRange(here, f"must be at most {MAX_TEXT} characters, got {len(value)}")
    choices = CHOICES.get((owner, name))
    if choices is not None and value not in choices:
        listed = ", ".join(f'"{choice}"' for choice in choices)
        raise InputOutOfRange(here, f'must be one of {listed}, got "{value}"')


def _check_ids(system: SystemInput) -> None:
    for name in ("panels", "strings", "controllers", "sources", "circuits"):
        seen: set[str] = set()
        for index, item in enumerate(getattr(system, name)):
            path = f"{name}[{index}].id"
            if not item.id:
                raise InputOutOfRange(path, "must not be empty")
            if item.id in seen:
                raise InputOutOfRange(path, f'must be unique, "{item.id}" is used twice')
            seen.add(item.id)


def _check_links(system: SystemInput) -> None:
    panels = {placed.id for placed in system.panels}
    controllers = {each.id for each in system.controllers}
    strings = {each.id for each in system.strings}
    taken: dict[str, str] = {}
    for index, string in enumerate(system.strings):
        _known(f"strings[{index}].controller_id", "controller", string.controller_id, controllers)
        for number, panel_id in enumerate(string.panel_ids):
            path = f"strings[{index}].panel_ids[{number}]"
            _known(path, "panel", panel_id, panels)
            if panel_id in taken:
                raise InputOutOfRange(path, f'panel "{panel_id}" is already in string "{taken[panel_id]}"')
            taken[panel_id] = string.id
    for index, placed in enumerate(system.panels):
        if placed.string_id is not None:
            _known(f"panels[{index}].string_id", "string", placed.string_id, strings)
    for index, plug in enumerate(system.plugs):
        _known(f"plugs[{index}].controller_id", "controller", plug.controller_id, controllers)
    _check_serves(system, controllers, strings)


def _check_serves(system: SystemInput, controllers: set[str], strings: set[str]) -> None:
    known = {
        "controller": controllers,
        "string": strings,
        "source": {each.id for each in system.sources},
    }
    for index, circuit in enumerate(system.circuits):
        path, serves = f"circuits[{index}].serves", circuit.serves
        kind, colon, name = serves.partition(":")
        if colon and kind in known:
            _known(path, kind, name, known[kind])
        elif serves not in ("", "inverter", "bank", "load"):
            raise InputOutOfRange(
                path,
                'must be "", "inverter", "bank", "load", or "controller:", "string:" or "source:" '
                f'with an id, got "{serves}"',
            )


def _known(path: str, what: str, name: str, names: Iterable[str]) -> None:
    if name not in names:
        raise InputOutOfRange(path, f'there is no {what} "{name}"')


def _check_sheet(path: str, panel: PanelSpec) -> None:
    if panel.vmp_v >= panel.voc_v:
        raise InputOutOfRange(
            f"{path}.vmp_v", f"must be below voc_v ({panel.voc_v:g} V), got {panel.vmp_v:g} V"
        )
    if panel.imp_a > panel.isc_a:
        raise InputOutOfRange(
            f"{path}.imp_a", f"must be at most isc_a ({panel.isc_a:g} A), got {panel.imp_a:g} A"
        )


def _check_size(path: str, circuit: CircuitInput) -> None:
    if circuit.size is None:
        return
    try:
        conductor(circuit.size, circuit.cable_standard)
    except InputOutOfRange as refusal:
        raise InputOutOfRange(path, refusal.message) from None
