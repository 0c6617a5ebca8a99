"""Invented circuits and small systems that the wiring tests ask about."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from sizing.array.strings import controller_result
from sizing.circuits.circuits import judge_circuits
from sizing.core.checks import Check
from sizing.core.inputs import (
    ChargeSourceInput,
    CircuitInput,
    CircuitKind,
    InverterInput,
    RuleSet,
    SourceKind,
    SystemInput,
)
from sizing.core.results import CircuitRow
from tests.designs import P200, controller, lfp_bank, placed, wired


def system(*circuits: CircuitInput, **more: Any) -> SystemInput:
    """Return two P200 in parallel, 400 Ah of lithium, a 3 kW inverter, and these circuits."""
    base = SystemInput(
        rule_set=RuleSet.MARINE_105C,
        v_nominal_v=12.0,
        tmin_travel_c=-20.0,
        tmin_storage_c=-20.0,
        panels=placed(P200, 2),
        strings=wired(2, 1),
        controllers=(controller(100, 30),),
        bank=lfp_bank(4),
        inverter=InverterInput("inverter 3 kW", 3000.0, surge_w=6000.0),
        circuits=circuits,
    )
    return replace(base, **more)


def judged(asked: SystemInput) -> tuple[dict[str, CircuitRow], dict[str, Check]]:
    """Return rows by id and checks by key."""
    results = tuple(controller_result(asked, each) for each in asked.controllers)
    rows, checks, _ = judge_circuits(asked, results)
    return {row.id: row for row in rows}, {check.key: check for check in checks}


def dc_dc(output_a: float, **more: Any) -> ChargeSourceInput:
    """Return a DC-DC converter fed from a smart alternator that runs at 13.6 V; it stops below 12.0 V."""
    base = ChargeSourceInput(
        "dc", SourceKind.DC_DC, "DC-DC", output_a, absorb_v=14.2, input_v=13.6, lockout_v=12.0
    )
    return replace(base, **more)


def home_run(run_len_m: float | None = 6.1, **more: Any) -> CircuitInput:
    """Return a home run on the roof."""
    return replace(CircuitInput("C2", CircuitKind.HOME_RUN, run_len_m, serves="controller:A"), **more)
