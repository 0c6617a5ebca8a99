"""The current expected at first switch-on: an energy balance worked by hand, and its refusals."""

from __future__ import annotations

import pytest

import sizing

PANEL = sizing.PanelSpec(
    name="P200",
    pmp_w=200,
    vmp_v=20.4,
    imp_a=9.8,
    voc_v=24.3,
    isc_a=10.2,
    length_m=1.49,
    width_m=0.67,
    thickness_m=0.035,
    mass_kg=11.5,
    beta_voc_fraction_per_c=-0.0028,
    gamma_pmp_fraction_per_c=-0.0036,
)


def design(rated_a: float = 50.0, panel: sizing.PanelSpec = PANEL) -> sizing.SystemInput:
    """Return four panels, two in series twice, on controller A."""
    return sizing.SystemInput(
        rule_set=sizing.RuleSet.MARINE_105C,
        v_nominal_v=12,
        tmin_travel_c=-5,
        tmin_storage_c=-20,
        panels=tuple(
            sizing.PlacedPanel(id=str(n), panel=panel, x_m=float(n), y_m=0, string_id="1" if n <= 2 else "2")
            for n in range(1, 5)
        ),
        strings=(sizing.StringInput("1", "A", ("1", "2")), sizing.StringInput("2", "A", ("3", "4"))),
        controllers=(sizing.ControllerInput("A", "MPPT", sizing.ControllerKind.MPPT, 100, rated_a),),
    )


def ask(system: sizing.SystemInput, name: str = "A", **changes: float) -> float | None:
    """Return the expected current at the golden sun: 820 W/m² and 48 °C."""
    weather = {"poa_global_w_m2": 820.0, "temp_cell_c": 48.0, "battery_v": 13.3} | changes
    return sizing.expected_charge_a(system, name, **weather)


def test_it_balances_power_in_and_out():
    # By hand: 800 W × 0.82 × (1 - 0.0036 × 23) × 0.96 / 13.3 V = 43.43 A
    assert ask(design()) == pytest.approx(43.43, abs=0.01)


def test_the_controllers_rating_is_a_ceiling():
    assert ask(design(rated_a=30)) == 30


def test_it_says_nothing_without_a_coefficient_or_panels():
    import dataclasses

    blank = dataclasses.replace(PANEL, gamma_pmp_fraction_per_c=None)
    assert ask(design(panel=blank)) is None
    assert ask(design(), "B") is None


@pytest.mark.parametrize(
    ("name", "value"), [("poa_global_w_m2", -1.0), ("temp_cell_c", 200.0), ("battery_v", 0.0)]
)
def test_it_refuses_what_cannot_be(name, value):
    with pytest.raises(sizing.InputOutOfRange, match=name):
        ask(design(), **{name: value})
