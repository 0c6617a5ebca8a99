"""Web, command line and Python give the same verdicts on the same question.

Thirty designs: what a person types is written into the records by columns, and into a question of its own
by the engine's names. The web sizes the records and stores the answer; the command line reads the question
from a file; Python asks it as it stands. Whatever one of the ways adds of its own shows as a difference.
"""

from __future__ import annotations

import json
import random
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from django.db.models import Model
from django.urls import reverse

import sizing
from jobs.design.checks import is_of_the_office
from jobs.design.revision import design_size
from jobs.engine.stored import design_in_full, latest_run, result_of
from jobs.engine.system import system_basis, system_input
from jobs.models import Design, Part, TravelStop
from jobs.roof.read import roof_state
from jobs.shop.actor import ByName
from sizing.cli import cli_check
from sizing.core.inputs import SystemInput

pytestmark = pytest.mark.django_db
Change = Callable[[SystemInput, Any], SystemInput]


def question_of(design: Design) -> SystemInput:
    full = design_in_full(design.pk)
    return system_input(roof_state(full), system_basis(full))


# --- how a typed value stands in a question -----------------------------------------------------------------


def top(name: str) -> Change:
    return lambda asked, value: replace(asked, **{name: value})


def inside(part: str, name: str) -> Change:
    """Return how a field of bank, inverter, roof or weight is set."""
    return lambda asked, value: replace(asked, **{part: replace(getattr(asked, part), **{name: value})})


def each_of(part: str, name: str, only: str = "") -> Change:
    """Return how a field of all rows of a list is set, or of the one with an id."""

    def change(asked: SystemInput, value: Any) -> SystemInput:
        rows = (
            replace(row, **{name: value}) if not only or row.id == only else row
            for row in getattr(asked, part)
        )
        return replace(asked, **{part: tuple(rows)})

    return change


def circuit(label: str, name: str) -> Change:
    return each_of("circuits", name, label)


def device(label: str, name: str) -> Change:
    """Return how a field of a circuit's device is set."""

    def change(asked: SystemInput, value: Any) -> SystemInput:
        ocpd = next(row.ocpd for row in asked.circuits if row.id == label)
        assert ocpd is not None
        return circuit(label, "ocpd")(asked, replace(ocpd, **{name: value}))

    return change


def sheet(name: str) -> Change:
    """Return how a value of the panels' data sheet is set; all panels are of one kind."""

    def change(asked: SystemInput, value: Any) -> SystemInput:
        rows = (replace(row, panel=replace(row.panel, **{name: value})) for row in asked.panels)
        return replace(asked, panels=tuple(rows))

    return change


def confidence(label: str) -> Change:
    """Return how a length is said to be a guess: on the circuit, and among the guessed facts."""

    def change(asked: SystemInput, value: str) -> SystemInput:
        asked = circuit(label, "confidence")(asked, sizing.Confidence(value))
        mark = {f"circuit:{label}.run_len"}
        return replace(asked, guesses=asked.guesses | mark if value == "guess" else asked.guesses - mark)

    return change


def rule_set(asked: SystemInput, value: str) -> SystemInput:
    return replace(asked, rule_set=sizing.RuleSet(value))


def shade(asked: SystemInput, value: str) -> SystemInput:
    return replace(
        asked, legs=tuple(replace(leg, shade_habit=sizing.ShadeHabit(value)) for leg in asked.legs)
    )


def legs(name: str) -> Change:
    return lambda asked, value: replace(
        asked, legs=tuple(replace(leg, **{name: value}) for leg in asked.legs)
    )


def first_load(asked: SystemInput, value: float) -> SystemInput:
    return replace(asked, loads=(replace(asked.loads[0], hours_per_day=value), *asked.loads[1:]))


# --- where it stands in the records -------------------------------------------------------------------------


def record(name: str, design: Design) -> Model:
    """Return a record of the golden design by a short name."""
    found: dict[str, Callable[[], Any]] = {
        "design": lambda: design,
        "survey": lambda: design.job.survey,
        "vehicle": lambda: design.job.vehicle,
        "load": lambda: design.job.survey.loads.first(),
        "stop": lambda: TravelStop.objects.get(survey=design.job.survey),
        "panel": lambda: Part.objects.get(pk=design.panels.first().part_id).panel_sheet,
        "controller": lambda: design.controllers.get().part.controller_sheet,
        "battery": lambda: design.bank.part.battery_sheet,
        "bank": lambda: design.bank,
        "inverter": lambda: design.inverter.part.inverter_sheet,
        "source": lambda: design.sources.first(),
    }
    return found[name]() if name in found else design.circuits.get(label=name)


#: Record, column, what may be typed there, and how it stands in a question; SI as both hold it.
TYPED: list[tuple[str, str, tuple[Any, ...], Change]] = [
    ("design", "rule_set", ("marine_105c", "code_75c", "code_90c"), rule_set),
    ("design", "is_glued", (True, False), top("glued_panels")),
    ("survey", "tmin_travel_c", (-25.0, -5.0, None), top("tmin_travel_c")),
    ("survey", "tmin_storage_c", (-38.0, -12.0, None), top("tmin_storage_c")),
    ("survey", "tmax_c", (35.0, 48.0), top("tmax_c")),
    ("survey", "battery_tmin_c", (-9.0, 3.0, 12.0), inside("bank", "tmin_c")),
    ("survey", "autonomy_days", (1.0, 3.0), top("autonomy_days")),
    ("survey", "k_sys", (0.7, 0.8), top("k_sys")),
    ("survey", "gland_screws", (6, 10), inside("roof", "gland_screws")),
    ("vehicle", "cargo_label_kg", (350.0, 900.0, None), inside("weight", "label_kg")),
    ("load", "hours_per_day", (4.0, 24.0), first_load),
    ("stop", "psh_h", (2.1, 5.5, None), legs("psh_h")),
    ("stop", "shade_habit", ("open", "mixed", "woods"), shade),
    ("stop", "tilt_deg", (30.0, 45.0), legs("tilt_deg")),
    ("panel", "voc_v", (23.0, 25.5), sheet("voc_v")),
    ("panel", "max_series_fuse_a", (15.0, None), sheet("max_series_fuse_a")),
    ("controller", "pv_voltage_limit_v", (50.0, 75.0, 150.0), each_of("controllers", "pv_voltage_limit_v")),
    ("controller", "rated_output_a", (15.0, 40.0), each_of("controllers", "rated_output_a")),
    ("battery", "capacity_ah", (50.0, 280.0), inside("bank", "unit_capacity_ah")),
    ("battery", "short_circuit_a", (4000.0, None), inside("bank", "short_circuit_a")),
    ("bank", "in_series", (1, 3), inside("bank", "in_series")),
    ("inverter", "power_w", (1000.0, 3500.0), inside("inverter", "power_w")),
    ("source", "limited_to_a", (20.0, None), each_of("sources", "limited_to_a")),
    ("source", "shore_hours_per_day", (0.0, 6.0), each_of("sources", "shore_hours_per_day")),
    ("C2", "run_len_m", (5.0, 14.0, None), circuit("C2", "run_len_m")),
    ("C2", "confidence", ("guess", "measured", "guess"), confidence("C2")),
    ("C2", "size", ("", "8", "12"), lambda asked, value: circuit("C2", "size")(asked, value or None)),
    ("C2", "bundle_count", (2, 9), circuit("C2", "bundle_count")),
    ("C2", "on_roof_in_sun", (True, False), circuit("C2", "on_roof_in_sun")),
    ("C2", "insulation_c", (75, 90), circuit("C2", "insulation_c")),
    ("C2", "in_raceway", (True, False), circuit("C2", "in_raceway")),
    ("C3", "terminal_c", (60, 75), circuit("C3", "terminal_c")),
    ("C3", "conductor_temp_c", (20.0, 60.0), circuit("C3", "conductor_temp_c")),
    ("C3", "confidence", ("guess", "scaled"), confidence("C3")),
    ("C3", "fuse_voltage_v", (32.0, None), device("C3", "voltage_rating_v")),
    ("C4", "fuse_distance_m", (0.3, 1.5, None), device("C4", "distance_to_source_m")),
    ("C4", "fuse_interrupting_a", (5000.0, None), device("C4", "interrupting_a")),
    ("C6", "fuse_a", (100.0, 400.0), device("C6", "rating_a")),
    ("C6", "run_len_m", (2.4, 4.2), circuit("C6", "run_len_m")),
    ("C6", "parallel_conductors", (1, 2), circuit("C6", "parallel_conductors")),
    ("C11", "ambient_c", (45.0, 62.0), circuit("C11", "ambient_c")),
]


def typed_into_both(design: Design, seed: int) -> SystemInput:
    """Type values at random into the records; return the question with the same values."""
    dice, asked = random.Random(seed), question_of(design)
    for name, column, choices, change in TYPED:
        if dice.random() < 0.4:
            value = dice.choice(choices)
            row = record(name, design)
            type(row)._default_manager.filter(pk=row.pk).update(**{column: value})
            asked = change(asked, value)
    return asked


def said(checks: Any) -> dict[str, tuple[str, float | None]]:
    """Return verdict and value of each check."""
    return {check.key: (str(check.verdict), check.value) for check in checks}


@pytest.mark.parametrize("seed", range(30))
def test_web_command_line_and_python_agree(golden_job, erin, client_of, now, tmp_path, capsys, seed):
    design = golden_job.designs.get()
    asked = typed_into_both(design, seed)
    by_python = said(sizing.size_system(asked).checks)

    design_size(design=design, actor=ByName("test"), at=now)
    run = latest_run(design)
    assert run is not None, Design.objects.get(pk=design.pk).unsized_reason
    assert said(check for check in result_of(run).checks if not is_of_the_office(check)) == by_python

    written = tmp_path / "typed.json"
    written.write_text(json.dumps(sizing.input_to_dict(asked)))
    downloaded = tmp_path / "downloaded.json"
    page = client_of(erin).get(reverse("jobs:design_input", args=[design.pk]))
    downloaded.write_bytes(page.content)
    for file in (written, downloaded):
        assert cli_check.run([str(file)]) == 0
        answer = sizing.result_from_dict(json.loads(capsys.readouterr().out))
        assert said(answer.checks) == by_python
