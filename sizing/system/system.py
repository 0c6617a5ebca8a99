"""The order in which the parts of the engine are asked; holds no formula itself."""

from __future__ import annotations

from dataclasses import replace

from sizing.array.used import used_panel_checks
from sizing.battery.alternator import alternator_checks
from sizing.battery.bank import bank_checks, bank_figures, bank_result
from sizing.battery.charging import charge_checks
from sizing.battery.cold import heat_figures
from sizing.battery.profiles import profile_rows
from sizing.cable.rulesets import rule_set_title
from sizing.circuits.circuits import judge_circuits
from sizing.core.inputs import SystemInput
from sizing.core.results import ENGINE_VERSION, SystemResult
from sizing.energy.harvest import balance_figures, credit_figures, harvest_checks, month_harvests
from sizing.energy.loads import daily_energy, energy_figures
from sizing.files.validate import validate
from sizing.roof.axles import axle_checks
from sizing.roof.mechanical import penetrations, roof_checks, roof_figures
from sizing.roof.weight import weight_checks, weight_result
from sizing.system.listed import schedule_checks
from sizing.system.next_size import next_size_figures
from sizing.system.one_part import controller_results, string_checks
from sizing.tables import TABLE_EDITIONS


def size_system(system: SystemInput) -> SystemResult:
    """Return the whole answer to one design: energy, bank, harvest, strings, circuits, roof, weight, checks.

    Parameters
    ----------
    system : SystemInput
        One design of one vehicle, in SI units; ``None`` means not known.

    Returns
    -------
    SystemResult
        Numbers with units in their names and one :class:`Check` per rule. [V], [A], [Wh], [kg], [N]

    Raises
    ------
    InputOutOfRange
        If a value cannot be right; the message names its path, the limit, the unit and what came in.

    Notes
    -----
    Pure: the same question always gets the same answer. A bad design is an answer, not an error.

    References
    ----------
    .. [1] Each check and figure names its own source.
    """
    validate(system)
    energy = daily_energy(system.loads, system.inverter)
    bank = bank_result(system, energy)
    months = month_harvests(system, energy.e_day_wh)
    controllers = controller_results(system)
    rows, wire_checks, wire_figures = judge_circuits(system, controllers)
    weight = weight_result(system)
    checks = (
        *harvest_checks(system, energy.e_day_wh, months),
        *bank_checks(system, energy, bank),
        *schedule_checks(system),
        *string_checks(system, controllers, rows),
        *used_panel_checks(system),
        *wire_checks,
        *charge_checks(system),
        *alternator_checks(system),
        *roof_checks(system),
        *weight_checks(system, weight),
        *axle_checks(system),
    )
    figures = (
        *energy_figures(system, energy),
        *bank_figures(system, bank),
        *balance_figures(system, energy.e_day_wh, months, bank.usable_wh),
        *credit_figures(system),
        *heat_figures(system),
        *wire_figures,
        *roof_figures(system),
    )
    result = SystemResult(
        engine_version=ENGINE_VERSION,
        rule_set=system.rule_set.value,
        rule_set_title=rule_set_title(system.rule_set),
        energy=energy,
        bank=bank,
        harvest=months,
        controllers=controllers,
        circuits=rows,
        penetrations=penetrations(system),
        weight=weight,
        figures=figures,
        checks=checks,
        table_editions=TABLE_EDITIONS,
        profiles=profile_rows(system),
    )
    return replace(result, figures=(*figures, *next_size_figures(system, result)))
