"""Laws of charging: a charger more is never better, no stop never helps, a cell knows no system voltage."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

import sizing
from sizing import BankInput, ChargeSourceInput, Chemistry, ControllerInput, SourceKind, SystemInput, worst
from tests.designs import controller, golden

CALM = settings(max_examples=120, deadline=None)
KINDS = tuple(kind for kind in SourceKind if kind is not SourceKind.PORTABLE_PV)
temps = st.none() | st.integers(-40, 40).map(float)


@st.composite
def banks(draw: st.DrawFn) -> BankInput:
    return BankInput(
        draw(st.sampled_from(Chemistry)),
        12.0,
        100.0,
        draw(st.integers(1, 4)) * 4,
        max_charge_a=draw(st.none() | st.sampled_from([20.0, 50.0, 100.0])),
        max_discharge_a=100.0,
        tmin_c=draw(temps),
        is_heated=draw(st.booleans()),
        heater_w=draw(st.sampled_from([0.0, 100.0])),
        is_inside=draw(st.booleans()),
        is_kept_warm=draw(st.none() | st.booleans()),
    )


@st.composite
def sources(draw: st.DrawFn, name: str) -> ChargeSourceInput:
    return ChargeSourceInput(
        name,
        draw(st.sampled_from(KINDS)),
        name,
        draw(st.sampled_from([10.0, 30.0, 60.0])),
        absorb_v=draw(st.none() | st.sampled_from([14.0, 14.4, 15.0])),
        low_t_stop_c=draw(st.none() | st.sampled_from([-5.0, 0.0, 3.0, 5.0])),
        temp_comp_mv_per_c=draw(st.none() | st.sampled_from([0.0, 3.0, -24.0])),
        alternator_rating_a=draw(st.none() | st.sampled_from([60.0, 150.0])),
        limited_to_a=draw(st.none() | st.just(20.0)),
    )


@st.composite
def designs(draw: st.DrawFn) -> SystemInput:
    return replace(
        golden(),
        circuits=(),
        bank=draw(banks()),
        sources=(draw(sources("a")), draw(sources("b"))),
        tmin_travel_c=draw(temps),
        tmin_storage_c=draw(temps),
    )


@CALM
@given(designs(), sources("extra"))
def test_a_charger_without_a_stop_never_improves_a_verdict(
    system: SystemInput, extra: ChargeSourceInput
) -> None:
    more = replace(system, sources=(*system.sources, replace(extra, low_t_stop_c=None)))
    before, after = sizing.size_system(system), sizing.size_system(more)
    charging = [c for c in before.checks if c.subject.startswith(("source:", "controller:", "bank"))]
    for check in charging:
        milder = after.check(check.key).verdict.severity < check.verdict.severity
        # an alternator nobody had rated may be rated by the new unit: that fact was what was missing
        hangs_on_it = check.key.endswith("/alternator") or check.key == "bank/charge_sum"
        assert not milder or (hangs_on_it and check.verdict.value == "not_enough_data")


@CALM
@given(designs())
def test_taking_the_stop_off_a_charger_is_never_milder(system: SystemInput) -> None:
    bare = replace(
        system,
        sources=tuple(replace(source, low_t_stop_c=None) for source in system.sources),
        controllers=tuple(replace(unit, low_t_stop_c=None) for unit in system.controllers),
    )
    with_stop, without = sizing.size_system(system), sizing.size_system(bare)
    for check in with_stop.checks:
        if check.key.endswith("/cold_charge"):
            assert without.check(check.key).verdict.severity >= check.verdict.severity


@CALM
@given(designs())
def test_below_freezing_no_charger_of_lithium_without_a_stop_passes(system: SystemInput) -> None:
    result = sizing.size_system(system)
    known = [t for t in (system.tmin_travel_c, system.tmin_storage_c) if t is not None]
    bank = system.bank
    assert bank is not None
    is_cold = bank.tmin_c < 0 if bank.tmin_c is not None else len(known) < 2 or min(known) < -2.0
    for unit in system.sources:
        if is_cold and bank.chemistry is Chemistry.LFP and unit.low_t_stop_c is None:
            assert result.check(f"source:{unit.id}/cold_charge").verdict is not sizing.Verdict.PASS


@CALM
@given(designs(), st.sampled_from([24.0, 36.0, 48.0]))
def test_a_cell_does_not_know_the_voltage_of_the_system(system: SystemInput, volts: float) -> None:
    """Four times the batteries in series, four times the volts, at the same amps: every verdict alike.

    The alternator is left out: a 12 V engine gives four times the amps for 48 V.
    """
    times = volts / 12.0
    assert system.bank is not None
    bank = replace(system.bank, quantity=12, in_series=1)
    low = replace(
        system, bank=bank, controllers=(replace(controller(600.0), absorb_v=14.2),), loads=(), inverter=None
    )
    high = replace(
        low,
        v_nominal_v=volts,
        bank=replace(bank, quantity=round(12 * times), in_series=round(times)),
        sources=tuple(_scaled(source, times) for source in low.sources),
        controllers=tuple(_scaled(unit, times) for unit in low.controllers),
    )
    names = ("/cold_charge", "/profile", "/float", "/equalise", "/compensation", "bank/charge_sum")
    one, other = sizing.size_system(low), sizing.size_system(high)
    verdicts = {check.key: check.verdict for check in one.checks if check.key.endswith(names)}
    assert verdicts
    assert verdicts == {check.key: check.verdict for check in other.checks if check.key.endswith(names)}


@CALM
@given(designs())
def test_the_whole_is_never_milder_than_its_chargers(system: SystemInput) -> None:
    result = sizing.size_system(system)
    parts = [check for check in result.checks if check.key.endswith("/cold_charge")]
    assert worst(tuple(result.checks)).severity >= max(check.verdict.severity for check in parts)


def _scaled[Unit: (ChargeSourceInput, ControllerInput)](unit: Unit, times: float) -> Unit:
    absorb_v = None if unit.absorb_v is None else unit.absorb_v * times
    comp = None if unit.temp_comp_mv_per_c is None else unit.temp_comp_mv_per_c * times
    return replace(unit, absorb_v=absorb_v, temp_comp_mv_per_c=comp)
