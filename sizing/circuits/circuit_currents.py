"""Which current each circuit must carry, worked from the whole system, by the kind of circuit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from types import MappingProxyType
from typing import Final

from sizing.array.strings import absorb_v
from sizing.cable.currents import (
    BRIGHT_SKY_FACTOR,
    CONTINUOUS_FACTOR,
    FUSE_EACH_FROM,
    NFPA_CONTINUOUS,
    NFPA_PV,
    SENSE_CURRENT_A,
    alternator_a,
    dc_dc_input_a,
    inverter_input_a,
    low_battery_v,
)
from sizing.cable.rulesets import facts as rule_facts
from sizing.circuits.surroundings import Basis, Surroundings
from sizing.core.checks import Provenance, Term
from sizing.core.inputs import Bus, CircuitInput, CircuitKind, SourceKind, SystemInput
from sizing.core.judge import show, show_count


def basis(around: Surroundings, circuit: CircuitInput) -> Basis:
    """Return what a circuit must carry, by its kind and what it serves."""
    return _stated_more(_BY_KIND[circuit.kind](around, circuit), circuit)


def _stated_more(found: Basis, circuit: CircuitInput) -> Basis:
    """A current stated by a person counts where it is more than the one worked out."""
    stated = circuit.current_a
    if stated is None or found.continuous_a is None or stated <= found.continuous_a:
        return found
    return replace(
        _stated(circuit, found.circuit_v, found.max_v),
        arrives_from_v=found.arrives_from_v,
        lockout_v=found.lockout_v,
    )


# -- array side ----------------------------------------------------------------------------------------


def _strings_to_combiner(around: Surroundings, circuit: CircuitInput) -> Basis:
    strings = around.served_strings(circuit)
    if not strings:
        return _unknown("the string it serves")
    isc_a = max(each.isc_a for each in strings)
    worst = max(strings, key=lambda each: each.imp_a / each.vmp_v)
    return _pv(isc_a, worst.imp_a, worst.vmp_v, around.voc_cold_v(circuit), "Isc", "short-circuit current")


def _home_run(around: Surroundings, circuit: CircuitInput) -> Basis:
    strings = around.strings(circuit)
    if not strings:
        return _unknown("the strings of its controller")
    isc_a = sum(each.isc_a for each in strings)
    imp_a = sum(each.imp_a for each in strings)
    vmp_v = min(each.vmp_v for each in strings)
    cold_v = around.voc_cold_v(circuit)
    return _pv(
        isc_a, imp_a, vmp_v, cold_v, "ΣIsc", f"short-circuit current of {show_count(len(strings), 'string')}"
    )


def _pv(isc_a: float, imp_a: float, vmp_v: float, cold_v: float | None, symbol: str, name: str) -> Basis:
    continuous_a = BRIGHT_SKY_FACTOR * isc_a
    design_a = CONTINUOUS_FACTOR * continuous_a
    return Basis(
        continuous_a=continuous_a,
        design_a=design_a,
        drop_a=imp_a,
        circuit_v=vmp_v,
        max_v=cold_v,
        formula=f"I_max = 1.25 × {symbol}; I_design = 1.25 × I_max",
        substituted=f"1.25 × {show(isc_a, 'A')} = {show(continuous_a, 'A')}; "
        f"1.25 × {show(continuous_a)} = {show(design_a, 'A')}",
        terms=(
            Term(symbol, name, isc_a, "A"),
            Term("Imp", "current at maximum power", imp_a, "A"),
            Term("Vmp", "voltage at maximum power", vmp_v, "V"),
        ),
        source=NFPA_PV,
        provenance=Provenance.PRINTED,
    )


# -- chargers ------------------------------------------------------------------------------------------


def _controller_to_bus(around: Surroundings, circuit: CircuitInput) -> Basis:
    found = around.controller(circuit)
    if found is None:
        return _unknown("the controller it serves")
    volts = around.charging_v(absorb_v(around.system, found))
    return _continuous(
        found.rated_output_a, volts, around.full_charge_v, "I_out", "rated output of the controller"
    )


def _dc_dc_input(around: Surroundings, circuit: CircuitInput) -> Basis:
    if around.source(circuit, SourceKind.RELAY) is not None:
        return _relay(around, circuit)
    found = around.source(circuit, SourceKind.DC_DC)
    if found is None:
        return _unknown("the DC-DC converter it serves")
    output_v = around.charging_v(found.absorb_v)
    nominal_v = 24.0 if (found.input_v or found.lockout_v or 12.0) > 18.0 else 12.0
    input_v = nominal_v if found.lockout_v is None else found.lockout_v
    current_a = dc_dc_input_a(found.output_a, output_v, input_v)
    return replace(
        _continuous(current_a, nominal_v, max(found.input_v or 0.0, 1.25 * nominal_v), "I_in", ""),
        formula="I_in = I_out·V_out/(0.9·V_in); I_design = 1.25 × I_in",
        substituted=f"{show(found.output_a)} × {show(output_v)} / (0.9 × {show(input_v)}) = "
        f"{show(current_a, 'A')}; 1.25 × {show(current_a)} = {show(1.25 * current_a, 'A')}",
        terms=(
            Term("I_out", "output of the converter", found.output_a, "A"),
            Term("V_out", "charging voltage of the bank", output_v, "V"),
            Term("V_in", "lowest working input voltage", input_v, "V", found.lockout_v is None),
        ),
        source="power balance at 90% efficiency (common practice) and the lowest working input",
        provenance=Provenance.COMMON_PRACTICE,
        arrives_from_v=found.input_v,
        lockout_v=found.lockout_v,
    )


def _relay(around: Surroundings, circuit: CircuitInput) -> Basis:
    """Return the current of a relay: the limit stated for it, else all the alternator gives."""
    found = around.source(circuit, SourceKind.RELAY)
    rating_a = None if found is None else alternator_a(around.system, found)
    if found is None or (found.limited_to_a is None and rating_a is None):
        return _unknown("the alternator behind the relay")
    current_a = found.limited_to_a or max(found.output_a, rating_a or 0.0)
    volts = around.charging_v(found.absorb_v)
    return _continuous(current_a, volts, around.full_charge_v, "I", f"all that {found.name} lets through")


def _dc_dc_output(around: Surroundings, circuit: CircuitInput) -> Basis:
    if around.source(circuit, SourceKind.RELAY) is not None:
        return _relay(around, circuit)
    return _charger(around, circuit, "the DC-DC converter it serves", SourceKind.DC_DC)


def _charger_to_bus(around: Surroundings, circuit: CircuitInput) -> Basis:
    kinds = (SourceKind.CONVERTER, SourceKind.INVERTER_CHARGER, SourceKind.GENERATOR)
    return _charger(around, circuit, "the charger it serves", *kinds)


def _portable(around: Surroundings, circuit: CircuitInput) -> Basis:
    if around.source(circuit, SourceKind.PORTABLE_PV) is None and circuit.current_a is not None:
        return _stated(circuit, around.usual_absorb_v, around.full_charge_v)
    return _charger(around, circuit, "the current of the portable panel", SourceKind.PORTABLE_PV)


def _charger(around: Surroundings, circuit: CircuitInput, missing: str, *kinds: SourceKind) -> Basis:
    found = around.source(circuit, *kinds)
    if found is None:
        return _unknown(missing)
    volts = around.charging_v(found.absorb_v)
    return _continuous(found.output_a, volts, around.full_charge_v, "I_out", f"rated output of {found.name}")


# -- bank, inverter, loads -----------------------------------------------------------------------------


def _inverter(around: Surroundings, circuit: CircuitInput) -> Basis:
    system, found = around.system, around.system.inverter
    if found is None:
        return _unknown("the inverter")
    low_v = low_battery_v(system.bank, system.v_nominal_v)
    current_a = inverter_input_a(found, system.bank, system.v_nominal_v)
    return replace(
        _continuous(current_a, system.v_nominal_v, around.full_charge_v, "I_dc", ""),
        formula="I_dc = P/(η·V_low); I_design = 1.25 × I_dc",
        substituted=f"{show(found.power_w, 'W')} / ({show(found.efficiency_fraction)} × {show(low_v, 'V')})"
        f" = {show(current_a, 'A')}; 1.25 × {show(current_a)} = {show(1.25 * current_a, 'A')}",
        terms=(
            Term("P", "rated power", found.power_w, "W"),
            Term("η", "efficiency", found.efficiency_fraction),
            Term("V_low", "lowest working battery voltage", low_v, "V", system.bank is None),
        ),
        source="NFPA 70 (2017) 690.8(A)(4): rated power at the lowest input voltage",
        provenance=Provenance.PRINTED,
    )


def _main(around: Surroundings, circuit: CircuitInput) -> Basis:
    """Battery side of everything: the inverter, the DC panel or all chargers, whichever is most."""
    system = around.system
    if circuit.current_a is not None:
        return _stated(circuit, system.v_nominal_v, around.full_charge_v)
    found = [
        (_inverter(around, circuit).continuous_a, "inverter"),
        (_panel_current_a(around), "DC panel"),
        (_charging_current_a(system), "all chargers together"),
    ]
    known = [(amps, name) for amps, name in found if amps]
    if not known:
        return _unknown("what the bank feeds (inverter, DC panel or chargers)")
    amps, name = max(known)
    return _continuous(amps, system.v_nominal_v, around.full_charge_v, "I_main", f"largest of all: {name}")


def _links(around: Surroundings, circuit: CircuitInput) -> Basis:
    """A link carries what the whole bank gives, bounded by what the bank may give.

    Where each battery has its own fuse and link to a busbar, a link carries its own battery only.
    """
    main, bank, volts = _main(around, circuit), around.system.bank, around.system.v_nominal_v
    if circuit.current_a is not None or bank is None or bank.max_discharge_a is None:
        return main
    in_parallel = max(1, bank.quantity // max(1, bank.in_series))
    if in_parallel >= FUSE_EACH_FROM:
        name = "most one battery may give; each has its own link and fuse"
        return _continuous(bank.max_discharge_a, volts, around.full_charge_v, "I_battery", name)
    limit_a = bank.max_discharge_a * in_parallel
    if main.continuous_a is not None and main.continuous_a <= limit_a:
        return main
    return _continuous(limit_a, volts, around.full_charge_v, "I_bank", "most the bank may give")


def _dc_panel(around: Surroundings, circuit: CircuitInput) -> Basis:
    volts, full_v = around.system.v_nominal_v, around.full_charge_v
    if circuit.current_a is not None:
        return _stated(circuit, volts, full_v)
    current_a = _connected_dc_a(around.system)
    if not current_a:
        return _unknown("the continuous current of the DC panel")
    return _continuous(current_a, volts, full_v, "I_dc", "all DC appliances running at once")


def _stated_only(around: Surroundings, circuit: CircuitInput) -> Basis:
    if circuit.current_a is None:
        return _unknown("the continuous current of the motors")
    return _stated(circuit, around.system.v_nominal_v, around.full_charge_v)


def _sense(around: Surroundings, circuit: CircuitInput) -> Basis:
    volts = around.system.v_nominal_v
    current_a = SENSE_CURRENT_A if circuit.current_a is None else circuit.current_a
    return _continuous(current_a, volts, around.full_charge_v, "I", "meters and probes (common practice)")


def _heater(around: Surroundings, circuit: CircuitInput) -> Basis:
    system, bank = around.system, around.system.bank
    if circuit.current_a is not None:
        return _stated(circuit, system.v_nominal_v, around.full_charge_v)
    if bank is None or not bank.heater_w:
        return _unknown("the power of the battery heater")
    current_a = bank.heater_w / system.v_nominal_v
    return _continuous(
        current_a, system.v_nominal_v, around.full_charge_v, "P/V", "heater power over voltage"
    )


# -- alternating current -------------------------------------------------------------------------------


def _inverter_ac_out(around: Surroundings, circuit: CircuitInput) -> Basis:
    found, volts = around.system.inverter, rule_facts(around.system.rule_set).ac_voltage_v
    if found is None:
        return _unknown("the inverter")
    return _continuous(found.power_w / volts, volts, volts, "P/V", f"inverter power over {volts:g} V")


def _shore(around: Surroundings, circuit: CircuitInput) -> Basis:
    """A shore line is rated by its breaker: the service rating is the design current, nothing is added."""
    volts = rule_facts(around.system.rule_set).ac_voltage_v
    if circuit.current_a is None:
        return _unknown("the rating of the shore service")
    rated_a = circuit.current_a
    return Basis(
        continuous_a=rated_a,
        design_a=rated_a,
        drop_a=rated_a,
        circuit_v=volts,
        max_v=volts,
        formula="I_design = I_service",
        substituted=f"{show(rated_a, 'A')}",
        terms=(Term("I_service", "rating of the shore service", rated_a, "A"),),
        source="rating plate of the shore service",
        provenance=Provenance.MAKER,
    )


# -- shared --------------------------------------------------------------------------------------------


def _continuous(current_a: float, circuit_v: float, max_v: float, symbol: str, name: str) -> Basis:
    design_a = CONTINUOUS_FACTOR * current_a
    return Basis(
        continuous_a=current_a,
        design_a=design_a,
        drop_a=current_a,
        circuit_v=circuit_v,
        max_v=max_v,
        formula=f"I_design = 1.25 × {symbol}",
        substituted=f"1.25 × {show(current_a)} = {show(design_a, 'A')}",
        terms=(Term(symbol, name, current_a, "A"),),
        source=NFPA_CONTINUOUS,
        provenance=Provenance.PRINTED,
    )


def _stated(circuit: CircuitInput, circuit_v: float | None, max_v: float | None) -> Basis:
    stated_a = circuit.current_a or 0.0
    name = "continuous current as stated for the circuit"
    return replace(
        _continuous(stated_a, circuit_v or 0.0, max_v or 0.0, "I", name), circuit_v=circuit_v, max_v=max_v
    )


def _unknown(missing: str) -> Basis:
    return Basis(None, None, None, None, None, missing=missing)


def _connected_dc_a(system: SystemInput) -> float:
    watts = sum(load.power_w * load.quantity for load in system.loads if load.bus is Bus.DC)
    return watts / system.v_nominal_v


def _panel_current_a(around: Surroundings) -> float:
    stated = [
        circuit.current_a
        for circuit in around.system.circuits
        if circuit.kind is CircuitKind.BUS_TO_DC_PANEL and circuit.current_a is not None
    ]
    return sum(stated) if stated else _connected_dc_a(around.system)


def _charging_current_a(system: SystemInput) -> float:
    return sum(each.rated_output_a for each in system.controllers) + sum(s.output_a for s in system.sources)


_BY_KIND: Final[MappingProxyType[CircuitKind, Callable[[Surroundings, CircuitInput], Basis]]] = (
    MappingProxyType(
        {
            CircuitKind.STRINGS_TO_COMBINER: _strings_to_combiner,
            CircuitKind.HOME_RUN: _home_run,
            CircuitKind.CONTROLLER_TO_BUS: _controller_to_bus,
            CircuitKind.BATTERY_TO_MAIN_FUSE: _main,
            CircuitKind.BATTERY_LINKS: _links,
            CircuitKind.BUS_TO_INVERTER: _inverter,
            CircuitKind.SHUNT_TO_BATTERY: _main,
            CircuitKind.START_BATTERY_TO_DC_DC: _dc_dc_input,
            CircuitKind.DC_DC_TO_BUS: _dc_dc_output,
            CircuitKind.CHARGER_TO_BUS: _charger_to_bus,
            CircuitKind.BUS_TO_DC_PANEL: _dc_panel,
            CircuitKind.SLIDES_AND_JACKS: _stated_only,
            CircuitKind.INVERTER_AC_OUT: _inverter_ac_out,
            CircuitKind.SHORE_AC_IN: _shore,
            CircuitKind.SENSE_AND_MONITOR: _sense,
            CircuitKind.PORTABLE_INLET: _portable,
            CircuitKind.BATTERY_HEATER: _heater,
        }
    )
)
