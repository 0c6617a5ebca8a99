"""Laws of fault current: the upper end never judges weaker than the lower, batteries and copper only add."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from sizing.cable.bank_fault import bank_fault
from sizing.circuits import fault_current, interrupting
from sizing.core.checks import Verdict
from sizing.core.inputs import BankInput, Chemistry
from tests.unit.sizing.fault import design, fault_of, main_run, row
from tests.unit.sizing.wiring import judged

BANKS = st.builds(
    BankInput,
    chemistry=st.sampled_from(list(Chemistry)),
    unit_nominal_v=st.just(12.0),
    unit_capacity_ah=st.floats(20.0, 600.0),
    quantity=st.integers(1, 8),
    internal_resistance_ohm=st.none() | st.floats(0.0005, 0.02),
    cca_a=st.none() | st.floats(200.0, 1500.0),
)
PLACES = st.sampled_from(["C3", "C4", "C5", "C6"])
SIZES = st.sampled_from(["6", "2", "2/0", "4/0"])


def circuits(size, length_m, rated_a, has_main):
    main = main_run() if has_main else replace(main_run(), ocpd=None)
    placed = {
        name: row(name, size, length_m, away_m=length_m / 2, interrupting_a=rated_a)
        for name in ("C3", "C5", "C6")
    }
    return {"C4": main, "C7": row("C7", size, length_m), **placed}


@given(BANKS, PLACES, SIZES, st.floats(0.05, 3.0), st.floats(500.0, 60_000.0), st.booleans())
def test_the_upper_end_never_judges_weaker_than_the_lower(bank, place, size, length_m, rated_a, has_main):
    rows = circuits(size, length_m, rated_a, has_main)
    rows["C4"] = replace(rows["C4"], ocpd=replace(main_run().ocpd, interrupting_a=rated_a))
    asked = design(bank, *rows.values())
    upper = judged(asked)[1][f"circuit:{place}/interrupting"].verdict
    kept = fault_current.fault_at
    try:
        interrupting.fault_at = lambda *each: replace(kept(*each), high_a=kept(*each).low_a)
        lower = judged(asked)[1][f"circuit:{place}/interrupting"].verdict
    finally:
        interrupting.fault_at = kept
    assert upper.severity >= lower.severity


@given(BANKS, PLACES, SIZES, st.floats(0.05, 3.0))
def test_a_parallel_battery_never_lowers_the_current(bank, place, size, length_m):
    rows = circuits(size, length_m, 5_000.0, True).values()
    more = replace(bank, quantity=bank.quantity + 1)
    few, many = (fault_of(each, *rows, at=place) for each in (bank, more))
    assert many.high_a >= few.high_a * (1 - 1e-9)
    assert many.low_a >= few.low_a * (1 - 1e-9)
    assert bank_fault(more).main_limit_a >= bank_fault(bank).main_limit_a * (1 - 1e-9)


@given(BANKS, PLACES, SIZES, st.floats(0.05, 3.0), st.floats(1.05, 3.0))
def test_longer_conductors_never_raise_the_current(bank, place, size, length_m, growth):
    near, far = (
        fault_of(bank, *circuits(size, each, 5_000.0, True).values(), at=place)
        for each in (length_m, length_m * growth)
    )
    assert far.high_a <= near.high_a * (1 + 1e-9)


@given(BANKS, SIZES, st.floats(0.05, 3.0))
def test_no_branch_sees_more_than_the_terminals_give(bank, size, length_m):
    found = fault_of(bank, *circuits(size, length_m, 5_000.0, True).values(), at="C3")
    assert found.low_a <= found.high_a <= bank_fault(bank).prospective_a[1] * (1 + 1e-9)


@given(BANKS, PLACES, st.floats(500.0, 60_000.0), st.floats(1.0, 3.0))
def test_a_device_that_breaks_more_is_never_judged_worse(bank, place, rated_a, more):
    def verdict(amps: float) -> Verdict:
        rows = circuits("2/0", 0.5, amps, True)
        rows["C4"] = replace(rows["C4"], ocpd=replace(main_run().ocpd, interrupting_a=30_000.0))
        if place == "C4":
            rows["C4"] = replace(rows["C4"], ocpd=replace(rows["C4"].ocpd, interrupting_a=amps))
        return judged(design(bank, *rows.values()))[1][f"circuit:{place}/interrupting"].verdict

    assert verdict(rated_a * more).severity <= verdict(rated_a).severity
