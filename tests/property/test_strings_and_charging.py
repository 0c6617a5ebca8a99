"""Laws of strings, chargers, roof and sun that hold for any design. Panels are invented."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import sizing
from sizing import ChargeSourceInput, PanelSpec, SourceKind
from tests.designs import P200, controller, golden, lfp_bank, placed, wired

TEMPS = st.floats(-40.0, 24.0)
DIODE = sizing.SingleDiode(0.008936, 1.630709, 10.041088, 2.096889e-10, 0.280402, 2586.8, 16.6)


def panels() -> st.SearchStrategy[PanelSpec]:
    """Return panels of plausible data sheets."""
    return st.builds(
        lambda voc, fill, isc, beta, gamma: replace(
            P200,
            voc_v=voc,
            vmp_v=voc * fill,
            isc_a=isc,
            imp_a=isc * 0.95,
            pmp_w=voc * fill * isc * 0.95,
            beta_voc_fraction_per_c=-beta,
            gamma_pmp_fraction_per_c=-gamma,
            single_diode=DIODE,
        ),
        st.floats(10.0, 60.0),
        st.floats(0.75, 0.88),
        st.floats(1.0, 20.0),
        st.floats(0.002, 0.004),
        st.floats(0.0025, 0.005),
    )


@settings(deadline=None)
@given(panel=panels(), one_c=TEMPS, other_c=TEMPS)
def test_colder_never_lowers_open_circuit_volts(panel, one_c, other_c):
    colder, warmer = sorted((one_c, other_c))
    cold = {found.method: found.voc_v for found in sizing.cold_voltages(panel, colder)}
    warm = {found.method: found.voc_v for found in sizing.cold_voltages(panel, warmer)}
    assert cold.keys() == warm.keys()
    assert all(cold[method] >= warm[method] - 1e-9 for method in cold)


@settings(deadline=None)
@given(panel=panels(), tmin_c=TEMPS, limit_v=st.floats(30.0, 600.0), more_v=st.floats(0.0, 300.0))
def test_a_higher_limit_never_allows_fewer_in_series(panel, tmin_c, limit_v, more_v):
    few = sizing.series_maximum(panel, pv_voltage_limit_v=limit_v, tmin_c=tmin_c)
    many = sizing.series_maximum(panel, pv_voltage_limit_v=limit_v + more_v, tmin_c=tmin_c)
    assert many >= few


@settings(max_examples=40, deadline=None)
@given(order=st.permutations(range(4)))
def test_permuting_equal_panels_changes_nothing(order):
    design = golden()
    names = [f"p{index + 1}" for index in order]
    strings = tuple(
        replace(string, panel_ids=tuple(names[2 * index : 2 * index + 2]))
        for index, string in enumerate(design.strings)
    )
    first, second = sizing.size_system(design), sizing.size_system(replace(design, strings=strings))
    assert first == second


@settings(max_examples=60, deadline=None)
@given(
    output_a=st.floats(1.0, 200.0),
    absorb_v=st.none() | st.floats(13.0, 15.0),
    stop_c=st.none() | st.integers(-10, 10).map(float),
    excluded=st.sets(st.sampled_from(["solar", "converter"])),
)
def test_adding_a_charge_source_never_relaxes_a_check(output_a, absorb_v, stop_c, excluded):
    design = golden()
    extra = ChargeSourceInput(
        "extra",
        SourceKind.CONVERTER,
        "extra",
        output_a,
        absorb_v=absorb_v,
        low_t_stop_c=stop_c,
        excluded_with=tuple(sorted(excluded)),
    )
    before = sizing.size_system(design)
    after = sizing.size_system(replace(design, sources=(*design.sources, extra)))
    for check in before.checks:
        now = after.check(check.key)
        assert now.verdict.severity >= check.verdict.severity, check.key


@settings(deadline=None)
@given(
    outputs=st.dictionaries(st.sampled_from("abcdefg"), st.floats(0.0, 100.0), min_size=1),
    pairs=st.sets(st.tuples(st.sampled_from("abcdefg"), st.sampled_from("abcdefg"))),
)
def test_an_interlock_never_raises_the_worst_sum(outputs, pairs):
    free = sizing.simultaneous_charge_a(outputs, frozenset())
    locked = frozenset(frozenset(pair) for pair in pairs if pair[0] != pair[1])
    tied = sizing.simultaneous_charge_a(outputs, locked)
    assert max(outputs.values()) <= tied + 1e-9
    assert tied <= free + 1e-9


@settings(max_examples=50, deadline=None)
@given(feet=st.integers(4, 12), more=st.integers(1, 6))
def test_more_feet_never_load_a_foot_more(feet, more):
    design = golden()
    few = sizing.size_system(replace(design, panels=placed(P200, 4, feet=feet)))
    many = sizing.size_system(replace(design, panels=placed(P200, 4, feet=feet + more)))
    assert many.check("roof/uplift").value <= few.check("roof/uplift").value
    assert many.penetrations.penetrations > few.penetrations.penetrations


@settings(max_examples=50, deadline=None)
@given(mass_kg=st.floats(0.001, 500.0), water_kg=st.floats(0.001, 500.0))
def test_more_weight_never_leaves_more_cargo(mass_kg, water_kg):
    design = golden()
    ledger = design.weight
    heavier = replace(
        ledger,
        fresh_water_kg=ledger.fresh_water_kg + water_kg,
        added=(*ledger.added, ("more", mass_kg)),
    )
    before = sizing.size_system(design).weight.cargo_left_kg
    after = sizing.size_system(replace(design, weight=heavier)).weight.cargo_left_kg
    assert after <= before + 1e-9


@settings(deadline=None)
@given(
    latitude_deg=st.floats(-60.0, 60.0),
    month=st.integers(1, 12),
    clearness=st.floats(0.1, 0.78),
    shares=st.tuples(st.floats(0.0, 1.0), st.floats(0.0, 1.0)),
)
def test_a_worse_day_never_has_more_light(latitude_deg, month, clearness, shares):
    psh_h = sizing.psh_from_clearness_h(latitude_deg, month, clearness)
    low, high = (sizing.day_share(latitude_deg, month, psh_h, share) for share in sorted(shares))
    if low is not None:
        assert 0.0 < low <= high + 1e-9


@settings(deadline=None)
@given(latitude_deg=st.floats(-89.0, 89.0), month=st.integers(1, 12))
def test_north_and_south_mirror_half_a_year_apart(latitude_deg, month):
    """Up to the earth's distance from the sun, which differs by at most 7 % in light."""
    other = (month + 5) % 12 + 1
    north = sizing.psh_from_clearness_h(latitude_deg, month, 1.0)
    south = sizing.psh_from_clearness_h(-latitude_deg, other, 1.0)
    assert north == pytest.approx(south, rel=0.12, abs=0.5)


@settings(max_examples=25, deadline=None)
@given(count=st.integers(1, 9), limit_v=st.sampled_from([60.0, 100.0, 150.0, 250.0]), units=st.integers(1, 2))
def test_every_proposed_plan_uses_each_panel_once_and_is_not_blocked(count, limit_v, units):
    all_units = tuple(replace(controller(limit_v, 60), id="AB"[index]) for index in range(units))
    design = replace(
        golden(),
        panels=placed(P200, count),
        strings=(),
        controllers=all_units,
        circuits=(),
        bank=lfp_bank(6),
    )
    for plan in sizing.string_plans(design).plans:
        used = [name for string in plan.strings for name in string.panel_ids]
        assert sorted(used) == sorted(f"p{index + 1}" for index in range(count))
        result = sizing.size_system(replace(design, strings=plan.strings))
        assert not [
            check.key
            for check in result.checks
            if check.blocks and check.key.startswith(("controller", "string"))
        ]


@settings(max_examples=30, deadline=None)
@given(count=st.sampled_from([2, 4]), ns=st.sampled_from([1, 2]))
def test_a_design_does_not_differ_from_itself(count, ns):
    design = replace(golden(), panels=placed(P200, count), strings=wired(count, ns))
    checks = sizing.size_system(design).checks
    assert sizing.compare_checks(checks, checks) == ()
