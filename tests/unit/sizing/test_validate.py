"""What may be asked: ranges, units, names that point at something."""

from __future__ import annotations

import dataclasses
import math
import typing
from dataclasses import replace

import pytest

import sizing.core.inputs
from sizing.core.inputs import (
    CircuitInput,
    CircuitKind,
    InputOutOfRange,
    PlugInput,
    StringInput,
    SystemInput,
)
from sizing.core.limits import Range
from sizing.files.validate import validate
from tests.designs import P200, golden
from tests.limits import limits_of


def refused(system: SystemInput) -> str:
    with pytest.raises(InputOutOfRange) as refusal:
        validate(system)
    return str(refusal.value)


def test_the_reference_design_may_be_asked():
    validate(golden())


def numeric_fields():
    for owner in vars(sizing.core.inputs).values():
        if dataclasses.is_dataclass(owner) and owner.__module__ == sizing.core.inputs.__name__:
            hints = typing.get_type_hints(owner)
            for field in dataclasses.fields(owner):
                kinds = str(hints[field.name])
                if "float" in kinds or "int" in kinds:
                    yield owner, field.name


@pytest.mark.parametrize(("owner", "name"), list(numeric_fields()), ids=lambda x: getattr(x, "__name__", x))
def test_every_number_has_a_range(owner, name):
    assert name in limits_of(owner), f"{owner.__name__}.{name} has no range"


@pytest.mark.parametrize(
    ("allowed", "words"),
    [(Range(0, 1, "V"), "0 to 1 V"), (Range(0, 5, "", is_above=True), "above 0 and up to 5")],
)
def test_ranges_in_words(allowed, words):
    assert allowed.words() == words


def test_ends_of_a_range():
    assert Range(0, 1).holds(0)
    assert not Range(0, 1, is_above=True).holds(0)
    assert Range(0, 1).holds(1)
    assert not Range(0, 1).holds(1.01)


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_numbers_must_be_finite(value):
    message = refused(replace(golden(), k_sys=value))
    assert message.startswith("k_sys: must be a finite number (above 0 and up to 1)")
    no_range = replace(golden(), controllers=(replace(golden().controllers[0], start_margin_v=value),))
    assert refused(no_range).startswith("controllers[0].start_margin_v: must be a finite number")


def circuit(**more):
    return CircuitInput("X", CircuitKind.BUS_TO_DC_PANEL, 2.0, **more)


def with_circuits(*circuits):
    return replace(golden(), circuits=circuits)


def with_panel(**more):
    first = golden().panels[0]
    return replace(golden(), panels=(replace(first, panel=replace(P200, **more)), *golden().panels[1:]))


@pytest.mark.parametrize(
    ("system", "message"),
    [
        (with_circuits(circuit(current_a=-1)), "circuits[0].current_a: must be 0 to 5000 A, got -1"),
        (with_circuits(replace(circuit(), run_len_m=0.0)), "run_len_m: must be above 0 and up to 100 m"),
        (
            with_circuits(circuit(cable_standard="iso")),
            'cable_standard: must be one of "awg", "sae", "metric"',
        ),
        (with_circuits(circuit(size="11")), 'circuits[0].size: no awg conductor "11"'),
        (with_circuits(circuit(serves="moon")), 'circuits[0].serves: must be "", "inverter"'),
        (with_circuits(circuit(serves="controller:Z")), 'circuits[0].serves: there is no controller "Z"'),
        (with_circuits(circuit(serves="source:Z")), 'there is no source "Z"'),
        (with_circuits(circuit(serves="moon:Z")), "circuits[0].serves: must be"),
        (with_circuits(circuit(), circuit()), 'circuits[1].id: must be unique, "X" is used twice'),
        (with_circuits(replace(circuit(), id="")), "circuits[0].id: must not be empty"),
        (with_circuits(replace(circuit(), id="x" * 501)), "circuits[0].id: must be at most 500 characters"),
        (
            with_circuits(*(replace(circuit(), id=str(i)) for i in range(2001))),
            "at most 2000 entries, got 2001",
        ),
        (replace(golden(), plugs=(PlugInput("Z"),)), 'plugs[0].controller_id: there is no controller "Z"'),
        (
            replace(golden(), strings=(StringInput("S", "Z", ()),)),
            'strings[0].controller_id: there is no controller "Z"',
        ),
        (
            replace(golden(), strings=(StringInput("S", "A", ("p9",)),)),
            'strings[0].panel_ids[0]: there is no panel "p9"',
        ),
        (
            replace(golden(), strings=(StringInput("S", "A", ("p1", "p1")),)),
            'strings[0].panel_ids[1]: panel "p1" is already in string "S"',
        ),
        (
            replace(golden(), panels=(replace(golden().panels[0], string_id="S9"), *golden().panels[1:])),
            'panels[0].string_id: there is no string "S9"',
        ),
        (with_panel(vmp_v=25.0), "panels[0].panel.vmp_v: must be below voc_v (24.3 V), got 25 V"),
        (with_panel(imp_a=11.0), "panels[0].panel.imp_a: must be at most isc_a (10.2 A), got 11 A"),
        # P = U·I: 20.4 V × 9.8 A = 199.9 W; 3 % of 206.5 W is 6.2 W, of 206 W 6.18 W (gap 6.6 and 6.1)
        (
            with_panel(pmp_w=206.5),
            "panels[0].panel.pmp_w: Vmp × Imp is 199.9 W, more than 3% off the 206.5 W of the sheet"
            " (vmp_v 20.4 V, imp_a 9.8 A)",
        ),
        (
            replace(golden(), tmin_travel_c=43.0, tmax_c=40.0),
            "tmin_travel_c: must not be above tmax_c (40 °C), got 43 °C",
        ),
        (
            replace(golden(), tmin_storage_c=-4.5, tmin_travel_c=-20.0, tmax_c=-5.0),
            "tmin_storage_c: must not be above tmax_c (-5 °C), got -4.5 °C",
        ),
        (
            replace(golden(), legs=(replace(golden().legs[0], months=(0,)),)),
            "legs[0].months[0]: must be 1 to 12",
        ),
        (
            replace(golden(), weight=replace(golden().weight, added=(("x", -1.0),))),
            "weight.added[0][1]: must be 0 to 25000 kg",
        ),
        (
            replace(golden(), bank=replace(golden().bank, quantity=3, in_series=2)),
            "bank.in_series: must divide the 3 batteries, got 2",
        ),
    ],
)
def test_what_cannot_be_is_named_with_limit_and_unit(system, message):
    assert message in refused(system)


@pytest.mark.parametrize(
    "system",
    [
        with_panel(pmp_w=206.0),
        with_panel(pmp_w=194.2),  # 199.92/194.2 is 2.9 % more
        replace(golden(), tmin_travel_c=40.0, tmin_storage_c=40.0, tmax_c=40.0),
        replace(golden(), tmin_travel_c=None, tmin_storage_c=None, tmax_c=-60.0),
    ],
)
def test_what_hangs_together_may_be_asked(system):
    validate(system)


@pytest.mark.parametrize(
    "serves", ["", "inverter", "bank", "load", "controller:A", "string:S1", "source:converter"]
)
def test_what_a_circuit_may_serve(serves):
    validate(with_circuits(circuit(serves=serves)))


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ("0.75", 'must be a number, above 0 and up to 1, got "0.75"'),
        (True, "must be a number, above 0 and up to 1, got true"),
        (10**400, "got a number of more than 30 digits"),
        (1e-12, "must be 0 or at least 1e-09, got 1e-12"),
    ],
)
def test_what_is_no_number_of_a_vehicle_is_refused(value, words):
    assert words in refused(replace(golden(), k_sys=value))


def test_a_wrong_choice_of_thousands_of_digits_is_refused():
    assert "must be one of 12, 24, 36, 48 V" in refused(replace(golden(), v_nominal_v=10**400))


def test_a_named_string_is_known():
    first = replace(golden().panels[0], string_id="S1")
    validate(replace(golden(), panels=(first, *golden().panels[1:])))


def test_the_engine_refuses_before_it_computes():
    with pytest.raises(InputOutOfRange, match="k_sys"):
        sizing.size_system(replace(golden(), k_sys=2.0))


def test_freezing_typed_in_fahrenheit_may_be_asked():
    """32 °F is 5.7e-14 °C by floating point, which is no fault of the person who typed it."""
    design = golden()
    stop = replace(design.controllers[0], low_t_stop_c=5.684341886080802e-14)
    validate(replace(design, controllers=(stop,), tmin_storage_c=5.684341886080802e-14))
