"""Asks the engine for the numbers behind expected readings, for every string plan.

The tablet puts them together: ``Voc = a + b·T + c·(T + 273)·ln(G/1000)``, ``Isc = G/1000·(a + b·(T - 25))``,
``I = (a + b·T)·G/1000/V``. The coefficients are read off the engine's answers; a test holds both together.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any, Final

import sizing
from checklists.rules.readings import (
    MOISTURE_CURE,
    MOISTURE_RISE,
    RAIN_SAFE_H,
    home_run_of,
    panel_of,
)
from checklists.tables.axes import Axis
from checklists.tables.parts import Job

_KELVIN: Final = 273.0


def reading_tables(job: Job, plan: Axis | None, axis: int | None) -> dict[str, Any]:
    """Return what the tablet needs to judge readings, by string plan; ``axis`` is the plan's switch."""
    reports: tuple[Mapping[str, Any], ...] = ({},) if plan is None else plan.reports
    refused = set() if plan is None else {plan.options.index(option) for option in plan.refused}
    plans = [{} if place in refused else _plan(job.built(values)) for place, values in enumerate(reports)]
    return {"axis": axis, "plans": plans, "home_runs": _home_runs(job.planned), **_rules()}


def _plan(system: sizing.SystemInput) -> dict[str, Any]:
    results = {found.id: found for found in sizing.controller_results(system)}
    volts = max((found.voc_stc_v for found in results.values()), default=0.0)
    return {
        "strings": {string.id: _string(system, string) for string in system.strings},
        "controllers": {unit.id: _controller(system, unit, results[unit.id]) for unit in system.controllers},
        "insulation": _insulation(volts) if volts > 0 else None,
    }


def _string(system: sizing.SystemInput, string: sizing.StringInput) -> dict[str, Any]:
    panel, ns = panel_of(system, string), len(string.panel_ids)
    if panel is None or panel.beta_voc_fraction_per_c is None:
        return {"ns": ns, "panel": None}

    def at(sun: float, cell: float) -> sizing.ExpectedReadings:
        return sizing.expected_readings(panel, ns=ns, poa_global_w_m2=sun, temp_cell_c=cell)

    cold, warm, dim = at(1000.0, 0.0), at(1000.0, 25.0), at(500.0, 0.0)
    slope = (warm.voc_v - cold.voc_v) / 25.0
    return {
        "ns": ns,
        "panel": {
            "voc_a": cold.voc_v,
            "voc_b": slope,
            "voc_c": (dim.voc_v - cold.voc_v) / math.log(0.5) / _KELVIN,
            "isc_a": warm.isc_a,
            "isc_b": (warm.isc_a - cold.isc_a) / 25.0,
        },
    }


def _controller(
    system: sizing.SystemInput, unit: sizing.ControllerInput, result: sizing.ControllerResult
) -> dict[str, Any]:
    unbound = replace(
        system, controllers=tuple(replace(each, rated_output_a=1e9) for each in system.controllers)
    )

    def watts(cell: float) -> float | None:
        return sizing.expected_charge_a(
            unbound, unit.id, poa_global_w_m2=1000.0, temp_cell_c=cell, battery_v=1.0
        )

    cold, warm = watts(0.0), watts(25.0)
    return {
        "strings": [string.id for string in system.strings if string.controller_id == unit.id],
        "imp_a": result.imp_a,
        "rated_a": unit.rated_output_a,
        "power_a": cold,
        "power_b": None if cold is None or warm is None else (warm - cold) / 25.0,
    }


def _insulation(volts: float) -> dict[str, Any]:
    """Return the limit and the words of an insulation reading; ``memory`` is said of a limit from memory."""
    limit = sizing.insulation_test(volts).min_resistance_mohm
    dry, wet = (sizing.judge_insulation(0.0, volts, is_wet=is_wet).sentence for is_wet in (False, True))
    kept = sizing.judge_insulation(limit, volts)
    from_memory = limit < 1.0 and kept.verdict is sizing.Verdict.CAUTION
    return {
        "limit": limit,
        "fails_dry": dry,
        "fails_wet": wet,
        "memory": sizing.MEMORY_SENTENCE if from_memory else "",
    }


def _home_runs(system: sizing.SystemInput) -> dict[str, str | None]:
    return {unit.id: home_run_of(system, unit.id) for unit in system.controllers}


def _rules() -> dict[str, Any]:
    """Return the limits of readings that hold for every job, asked of the engine where it owns them."""
    panel = sizing.PanelSpec(
        name="any", pmp_w=1.0, vmp_v=1.0, voc_v=1.0, imp_a=1.0, isc_a=1.0, length_m=1.0, width_m=1.0,
        thickness_m=0.0, mass_kg=1.0, beta_voc_fraction_per_c=0.0, gamma_pmp_fraction_per_c=0.0,
    )  # fmt: skip
    fine = sizing.expected_readings(panel, ns=1, poa_global_w_m2=1000.0, temp_cell_c=25.0)
    rough = sizing.expected_readings(
        panel, ns=1, poa_global_w_m2=1000.0, temp_cell_c=25.0, is_rough_meter=True
    )
    temps = [half / 2 for half in range(-80, 121)]
    rates = [sizing.cure_rate(temp) for temp in temps]
    return {
        "kelvin": _KELVIN,
        "least_sun": sizing.LEAST_SUN_W_M2,
        "test_sun": sizing.LEAST_IRRADIANCE_W_M2,
        "band": round(fine.voc_band_v[1] - 1.0, 12),
        "rough_band": round(rough.isc_band_a[1] - 1.0, 12),
        "alike": sizing.judge_strings_alike(sizing.Quantity.VOC, (1.0, 1.0)).limit,
        "charge_share": sizing.LEAST_SHARE_OF_CHARGE,
        "drop_share": sizing.judge_measured_drop(1.0, 1.0).limit,
        "cure_steps": [[temps[n], rates[n]] for n in range(len(temps)) if n and rates[n] != rates[n - 1]],
        "dry_air": _dry_air(),
        "moisture_cure": sorted(MOISTURE_CURE),
        "rain_safe_h": dict(RAIN_SAFE_H),
        "moisture_rise": MOISTURE_RISE,
    }


def _dry_air() -> float:
    """Return the humidity from which a moisture cure runs [-], to one part in a hundred."""
    wet = (percent / 100 for percent in range(101))
    return next(air for air in wet if sizing.cure_rate(20.0, air, moisture_cure=True) > 0)
