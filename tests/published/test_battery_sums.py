"""Batteries against printed ranges and hand-worked sums.

Charge temperatures: Battery University BU-410, table 1. Voltages: chargers' and makers' manuals, as each row
says. The Peukert form with rated hours is from memory; a public note prints 14.5 h for a 20 h case by
the wrong form, which is kept here as a trap.
"""

from __future__ import annotations

import pytest

import sizing
from sizing import Chemistry, Provenance, Verdict
from tests.published.reading import printed


def inputs(row: dict[str, str]) -> dict[str, float]:
    return {name: float(value) for name, value in (pair.split("=") for pair in row["inputs"].split())}


@pytest.mark.parametrize("row", printed("battery_sums"), ids=lambda row: row["case"])
def test_sums_come_out(row):
    given = inputs(row)
    if row["formula"] == "required_ah":
        energy_wh = sizing.required_bank_wh(
            given["e_day_wh"] / given["efficiency"],
            autonomy_days=given["days"],
            depth_of_discharge_fraction=given["usable"],
        )
        actual = energy_wh / given["nominal_v"]
    elif row["formula"] == "days":
        usable_wh = given["capacity_ah"] * given["nominal_v"] * given["usable"] * given["efficiency"]
        per_day_wh = sizing.required_bank_wh(
            given["e_day_wh"], autonomy_days=1.0, depth_of_discharge_fraction=1.0
        )
        actual = usable_wh / per_day_wh
    elif row["formula"] == "peukert_h":
        actual = sizing.peukert_hours_h(
            given["capacity_ah"],
            given["current_a"],
            k=given["k"],
            rated_hours_h=given["rated_hours_h"],
        )
    else:
        actual = sizing.compensated_v(
            given["absorb_v"],
            cells=int(given["cells"]),
            v_per_cell_per_c=given["v_per_cell_per_c"],
            cell_c=given["cell_c"],
        )
    assert actual == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))


def test_the_wrong_peukert_form_is_not_ours():
    assert sizing.peukert_hours_h(100.0, 5.0, k=1.2) != pytest.approx(100 / 5**1.2, abs=0.1)


@pytest.mark.parametrize(
    "row", printed("charge_temperatures"), ids=lambda row: f"{row['chemistry']} {row['cell_c']} °C"
)
def test_cold_charge_decision(row):
    verdict, _ = sizing.cold_verdict(Chemistry(row["chemistry"]), float(row["cell_c"]))
    assert verdict is Verdict(row["verdict"])


@pytest.mark.parametrize(
    "row", printed("charge_voltages"), ids=lambda row: f"{row['chemistry']} {row['item']}"
)
def test_charge_voltages_per_twelve_volts(row):
    found = getattr(sizing.chemistry_data(Chemistry(row["chemistry"])), f"{row['item']}_v")
    cells = int(row["cells_per_12v"])
    assert found.low == pytest.approx(float(row["low_v_per_cell"]) * cells)
    assert found.high == pytest.approx(float(row["high_v_per_cell"]) * cells)
    assert (found.provenance is Provenance.MEMORY) is ("memory" in row["source"])


@pytest.mark.parametrize("row", printed("peukert_exponents"), ids=lambda row: row["chemistry"])
def test_peukert_exponents(row):
    found = sizing.chemistry_data(Chemistry(row["chemistry"])).peukert_k
    assert (found.low, found.high) == (float(row["low"]), float(row["high"]))


def test_lead_is_compensated_by_three_to_five_millivolts_per_cell_and_lithium_by_none():
    """BU-410: 3 mV; a deep-cycle maker's guide: 5 mV per cell and °C."""
    lead = sizing.chemistry_data(Chemistry.AGM).temp_comp_v_per_c
    assert (lead.low, lead.high) == pytest.approx((-0.018, -0.030))
    lithium = sizing.chemistry_data(Chemistry.LFP).temp_comp_v_per_c
    assert (lithium.low, lithium.high) == (0.0, 0.0)
    assert sizing.chemistry_data(Chemistry.LFP).equalise_v.low is None
