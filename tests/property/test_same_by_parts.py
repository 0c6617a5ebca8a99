"""What a cell, a cable or a controller is told does not hang on the volts of the system or on its neighbors.

At 24 and 48 V a bank is two or four 12 V banks in series at the same amps: every volt of every setting is
doubled or fourfold and each verdict per cell stays. And the verdict on two things together is never milder
than on either alone.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import sizing
from sizing import (
    BankInput,
    Bus,
    Chemistry,
    CircuitInput,
    CircuitKind,
    LoadRow,
    OcpdInput,
    SystemInput,
    Verdict,
)
from tests.designs import P100, P200, controller, golden, lfp_bank, placed, wired

CALM = settings(max_examples=80, deadline=None)
VOLTS = (12.0, 24.0, 48.0)


def at_volts(volts: float, chemistry: Chemistry, absorb_12v: float, float_12v: float) -> SystemInput:
    """Return a design whose bank and settings are those of 12 V, so often in series."""
    times = round(volts / 12.0)
    bank = BankInput(chemistry, 12.0, 100.0, 4 * times, in_series=times, tmin_c=20.0, max_charge_a=100.0)
    (source,) = golden().sources
    charger = replace(source, absorb_v=absorb_12v * times, float_v=float_12v * times)
    unit = replace(controller(400.0), absorb_v=absorb_12v * times)
    return replace(
        golden(),
        v_nominal_v=volts,
        bank=bank,
        sources=(charger,),
        controllers=(unit,),
        circuits=(),
        loads=(),
        inverter=None,
    )


@CALM
@given(
    chemistry=st.sampled_from(Chemistry),
    absorb_12v=st.integers(125, 160).map(lambda tenth: tenth / 10),
    float_12v=st.integers(125, 150).map(lambda tenth: tenth / 10),
)
def test_a_setting_per_cell_has_one_verdict_at_every_voltage(chemistry, absorb_12v, float_12v):
    """The ranges are those by chemistry, where a factor that is forgotten would show."""
    found = []
    for volts in VOLTS:
        result = sizing.size_system(at_volts(volts, chemistry, absorb_12v, float_12v))
        told = ("/profile", "/float", "/equalise", "/cold_charge", "/charge_sum", "/series")
        found.append({check.key: check.verdict for check in result.checks if check.key.endswith(told)})
    assert found[0] == found[1] == found[2]
    assert "source:converter/float" in found[0]


@pytest.mark.parametrize("volts", VOLTS)
@pytest.mark.parametrize(
    ("setting", "per_12v", "verdict"),
    [
        # Lithium iron phosphate per 12 V: charged to 14.0 to 14.6 V (3.50 to 3.65 V a cell of four).
        ("absorb_v", 12.8, Verdict.CAUTION),
        ("absorb_v", 14.2, Verdict.PASS),
        ("absorb_v", 15.2, Verdict.BLOCK),
    ],
)
def test_a_charger_far_off_is_told_at_every_voltage(volts, setting, per_12v, verdict):
    system = at_volts(volts, Chemistry.LFP, per_12v, 13.5)
    check = sizing.size_system(system).check("source:converter/profile")
    assert check.verdict.severity >= verdict.severity if verdict is Verdict.PASS else check.verdict is verdict


@pytest.mark.parametrize(
    ("system_v", "unit_v", "in_series", "quantity", "is_met"),
    [
        # Batteries in series add their volts; every row of them must be full.
        (12.0, 12.8, 1, 3, True),
        (24.0, 12.8, 2, 4, True),
        (48.0, 12.8, 4, 8, True),
        (24.0, 25.6, 1, 2, True),
        (48.0, 25.6, 2, 2, True),
        (12.0, 6.0, 2, 4, True),
        (12.0, 12.0, 1, 1, True),
        (24.0, 12.8, 1, 4, False),
        (12.0, 12.8, 2, 4, False),
        (48.0, 12.8, 2, 4, False),
        (12.0, 6.0, 1, 2, False),
    ],
)
def test_batteries_in_series_make_the_systems_voltage(system_v, unit_v, in_series, quantity, is_met):
    bank = lfp_bank(quantity, unit_nominal_v=unit_v, in_series=in_series)
    found = sizing.size_system(replace(golden(), v_nominal_v=system_v, bank=bank)).check("bank/series")
    assert found.verdict is (Verdict.PASS if is_met else Verdict.BLOCK)


@pytest.mark.parametrize(
    ("volts", "bus", "keys"),
    [
        (12.0, Bus.DC, set()),
        (24.0, Bus.DC, {"bank/step_down"}),
        (24.0, Bus.AC, set()),
        (48.0, Bus.DC, {"bank/step_down", "bank/touch_voltage"}),
        (48.0, Bus.AC, {"bank/touch_voltage"}),
    ],
)
def test_what_a_higher_bank_asks_for(volts, bus, keys):
    """12 V appliances need a step-down above 12 V; at 48 V the full bank is near what may be touched."""
    loads = (LoadRow("appliance", bus, 100.0, 1.0, 5.0),)
    system = replace(at_volts(volts, Chemistry.LFP, 14.2, 13.5), loads=loads)
    told = {"bank/step_down", "bank/touch_voltage"}
    assert {check.key for check in sizing.size_system(system).checks} & told == keys


def test_a_row_that_is_not_full_is_refused_by_name():
    with pytest.raises(sizing.InputOutOfRange, match=r"bank.in_series: must divide the 3 batteries"):
        sizing.size_system(replace(golden(), v_nominal_v=24.0, bank=lfp_bank(3, in_series=2)))


# --- two are never milder than one --------------------------------------------------------------------------


def circuits() -> st.SearchStrategy[CircuitInput]:
    """Return a cable that may be too thin, too long, badly or not at all protected, in the heat or not."""
    return st.builds(
        CircuitInput,
        id=st.just("X"),
        kind=st.sampled_from([CircuitKind.BUS_TO_DC_PANEL, CircuitKind.CHARGER_TO_BUS]),
        run_len_m=st.none() | st.sampled_from([0.5, 3.0, 12.0]),
        serves=st.just("load"),
        size=st.none() | st.sampled_from(["14", "10", "4", "2/0"]),
        ocpd=st.none()
        | st.builds(
            OcpdInput,
            rating_a=st.sampled_from([15.0, 60.0, 200.0]),
            family=st.sampled_from(["", "class T"]),
            distance_to_source_m=st.none() | st.sampled_from([0.1, 3.0]),
        ),
        has_no_ocpd=st.booleans(),
        current_a=st.none() | st.sampled_from([5.0, 40.0, 150.0]),
        bundle_count=st.sampled_from([2, 8]),
        ambient_c=st.sampled_from([20.0, 60.0]),
    )


def verdicts(system: SystemInput, subject: str) -> dict[str, Verdict]:
    return {one.key: one.verdict for one in sizing.size_system(system).checks if one.subject == subject}


def never_milder(together: dict[str, Verdict], alone: dict[str, Verdict]) -> None:
    assert alone
    for key, verdict in alone.items():
        assert together[key].severity >= verdict.severity, key


@CALM
@given(one=circuits(), other=circuits())
def test_a_cable_is_judged_as_hard_beside_another(one, other):
    base = replace(golden(), circuits=())
    one, other = replace(one, id="X1"), replace(other, id="X2")
    both = replace(base, circuits=(one, other))
    for each in (one, other):
        alone = verdicts(replace(base, circuits=(each,)), f"circuit:{each.id}")
        never_milder(verdicts(both, f"circuit:{each.id}"), alone)


@CALM
@given(
    limits=st.tuples(*[st.sampled_from([40.0, 60.0, 100.0, 250.0])] * 2),
    rated=st.tuples(*[st.sampled_from([10.0, 30.0, 60.0])] * 2),
    stops=st.tuples(*[st.none() | st.just(5.0)] * 2),
    absorbs=st.tuples(*[st.none() | st.sampled_from([13.0, 14.2, 15.5])] * 2),
    ns=st.sampled_from([1, 2]),
)
def test_a_controller_is_judged_as_hard_beside_another(limits, rated, stops, absorbs, ns):
    units = [
        replace(controller(limit_v, rated_a, low_t_stop_c=stop_c, absorb_v=absorb_v), id=name)
        for name, limit_v, rated_a, stop_c, absorb_v in zip("AB", limits, rated, stops, absorbs, strict=True)
    ]
    kinds, across_m = {"A": P200, "B": P100}, {"A": 0.3, "B": 1.1}
    panels = {
        name: tuple(replace(one, id=f"{name}{one.id}", y_m=across_m[name]) for one in placed(kinds[name], 2))
        for name in "AB"
    }
    strings = {
        name: tuple(
            replace(one, id=f"{name}{one.id}", panel_ids=tuple(f"{name}{pk}" for pk in one.panel_ids))
            for one in wired(2, ns, controller_id=name)
        )
        for name in "AB"
    }

    def design(names: str) -> SystemInput:
        return replace(
            golden(),
            circuits=(),
            sources=(),
            controllers=tuple(unit for unit in units if unit.id in names),
            panels=tuple(one for name in names for one in panels[name]),
            strings=tuple(one for name in names for one in strings[name]),
        )

    both = sizing.size_system(design("AB"))
    together = {one.key: one.verdict for one in both.checks}
    for name in "AB":
        alone = sizing.size_system(design(name))
        subjects = {f"controller:{name}", *(f"string:{one.id}" for one in strings[name])}
        keys = {
            one.key: one.verdict
            for one in alone.checks
            if one.subject in subjects or one.key in {"bank/charge_sum", "roof/uplift", "vehicle/cargo_left"}
        }
        never_milder(together, keys)
