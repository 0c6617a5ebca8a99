"""Laws of wire: copper, length, heat, company and strictness."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sizing.cable.ampacity import Laying, cable_ampacity
from sizing.cable.conductors import ResistanceBasis, ladder
from sizing.cable.overcurrent import round_up, string_fuse
from sizing.cable.wire import M_PER_FT, drop, loop_len_m, voltage_drop_v
from sizing.core.checks import Verdict
from sizing.core.inputs import CableStandard, CircuitInput, CircuitKind, RuleSet
from tests.unit.sizing.wiring import judged, system

amps = st.floats(0.1, 600)
metres = st.floats(0.05, 50)
temps = st.floats(-40, 105)
rule_sets = st.sampled_from(list(RuleSet))
standards = st.sampled_from(list(CableStandard))
bases = st.sampled_from(list(ResistanceBasis))
lays = st.builds(
    Laying,
    bundle_count=st.integers(1, 30),
    ambient_c=st.floats(0, 80),
    in_engine_space=st.booleans(),
    on_roof_in_sun=st.booleans(),
    roof_clearance_m=st.one_of(st.none(), st.floats(0, 0.1)),
    in_raceway=st.booleans(),
    insulation_c=st.sampled_from([60, 75, 90, 105]),
    terminal_c=st.sampled_from([60, 75, 90]),
)


@given(standards, bases, metres, amps, temps)
def test_more_copper_never_more_drop(standard, basis, run_len_m, current_a, temp_c):
    lost = [
        drop(cable, run_len_m, current_a, 12.0, conductor_temp_c=temp_c, basis=basis).drop_v
        for cable in ladder(standard)
    ]
    assert lost == sorted(lost, reverse=True)


@given(standards, st.data(), metres, amps)
def test_halve_the_path_halve_the_drop(standard, data, run_len_m, current_a):
    cable = data.draw(st.sampled_from(ladder(standard)))
    whole, half = drop(cable, run_len_m, current_a, 12.0), drop(cable, run_len_m / 2, current_a, 12.0)
    assert half.drop_v == pytest.approx(whole.drop_v / 2)
    assert half.drop_fraction == pytest.approx(whole.drop_fraction / 2)


@given(metres, amps, st.floats(1e-5, 0.1))
def test_feet_or_metres_one_way_or_loop_same_answer(run_len_m, current_a, ohm_per_m):
    in_feet = run_len_m / M_PER_FT
    by_feet = 2 * in_feet * current_a * (ohm_per_m * M_PER_FT)
    assert voltage_drop_v(run_len_m, current_a, ohm_per_m) == pytest.approx(by_feet)
    assert loop_len_m(run_len_m) / 2 == pytest.approx(run_len_m)


@given(rule_sets, standards, lays)
def test_more_copper_never_less_ampacity(rule_set, standard, laying):
    carried = [cable_ampacity(rule_set, cable, laying).usable_a for cable in ladder(standard)]
    known = [each for each in carried if each is not None]
    assert known == sorted(known)


@given(rule_sets, standards, st.data(), lays, st.integers(1, 20))
def test_more_company_never_more_ampacity(rule_set, standard, data, laying, more):
    cable = data.draw(st.sampled_from(ladder(standard)))
    alone = cable_ampacity(rule_set, cable, laying).usable_a
    crowded = cable_ampacity(
        rule_set, cable, replace(laying, bundle_count=laying.bundle_count + more)
    ).usable_a
    assert crowded is None or (alone is not None and crowded <= alone + 1e-9)


@given(rule_sets, standards, st.data(), lays, st.floats(0, 40))
def test_hotter_never_more_ampacity(rule_set, standard, data, laying, hotter_c):
    cable = data.draw(st.sampled_from(ladder(standard)))
    cool = cable_ampacity(rule_set, cable, laying).usable_a
    hot = cable_ampacity(rule_set, cable, replace(laying, ambient_c=laying.ambient_c + hotter_c)).usable_a
    assert hot is None or (cool is not None and hot <= cool + 1e-9)


def proposed(rule_set: RuleSet, circuit: CircuitInput) -> tuple[float, Verdict]:
    rows, _ = judged(system(circuit, rule_set=rule_set))
    return rows[circuit.id].area_mm2 or 0.0, rows[circuit.id].verdict


@settings(max_examples=100, deadline=None)
@given(amps, metres, st.integers(1, 45), st.floats(0, 60), st.booleans(), st.booleans())
def test_a_stricter_rule_set_never_gives_a_thinner_conductor(
    current_a, run_len_m, together, ambient_c, is_hot, is_on_roof
):
    """The 75 °C code set derates from a lower column than the 90 °C one; all else is the same rule."""
    circuit = CircuitInput(
        "X",
        CircuitKind.BUS_TO_DC_PANEL,
        run_len_m,
        current_a=current_a,
        bundle_count=together,
        ambient_c=ambient_c,
        in_engine_space=is_hot,
        on_roof_in_sun=is_on_roof,
    )
    strict, loose = proposed(RuleSet.CODE_75C, circuit), proposed(RuleSet.CODE_90C, circuit)
    if Verdict.BLOCK not in (strict[1], loose[1]):
        assert strict[0] >= loose[0] - 1e-9


@given(st.sampled_from(ladder(CableStandard.AWG)[2:15]), st.integers(1, 60), st.floats(26, 60), st.booleans())
def test_code_never_lets_a_cable_carry_more_than_the_marine_set(cable, together, ambient_c, is_hot):
    """Off the roof, from 26 °C, 14 AWG to 4/0: code 75 °C ≤ code 90 °C ≤ marine 105 °C.

    Cooler air earns ampacity under code only. On a roof the marine set takes a share of ours instead of
    the code's 33 °C. The device may still be larger under code, whose next-size-up rule it has alone.
    """
    laying = Laying(bundle_count=together, ambient_c=ambient_c, in_engine_space=is_hot)
    carried = [
        cable_ampacity(each, cable, laying).usable_a or 0.0
        for each in (RuleSet.CODE_75C, RuleSet.CODE_90C, RuleSet.MARINE_105C)
    ]
    assert carried == sorted(carried)


@settings(max_examples=60, deadline=None)
@given(rule_sets, amps, metres, st.integers(1, 12))
def test_what_is_proposed_protects_itself(rule_set, current_a, run_len_m, together):
    circuit = CircuitInput(
        "X", CircuitKind.BUS_TO_DC_PANEL, run_len_m, current_a=current_a, bundle_count=together
    )
    rows, checks = judged(system(circuit, rule_set=rule_set))
    row = rows["X"]
    if row.verdict is Verdict.PASS:
        assert row.fuse_a >= row.design_a - 1e-9
        assert row.fuse_a <= checks["circuit:X/ocpd_cable"].limit + 1e-9
        assert row.drop_fraction <= row.drop_limit_fraction + 1e-9


@given(st.integers(1, 20), st.floats(0.1, 50), st.one_of(st.none(), st.floats(1, 60)))
def test_a_string_more_never_needs_fewer_fuses(np, isc_a, limit_a):
    fewer, more = string_fuse(np, isc_a, limit_a), string_fuse(np + 1, isc_a, limit_a)
    assert more.back_feed_a > fewer.back_feed_a
    if fewer.is_required:
        assert more.is_required
    assert more.min_rating_a == fewer.min_rating_a


@given(st.floats(0, 1200))
def test_rounding_up_never_rounds_down(needed_a):
    assert round_up(needed_a) >= needed_a * (1 - 1e-8)
