"""Sizes as people write them."""

from __future__ import annotations

import pytest

from sizing.cable.conductors import ResistanceBasis, conductor, ladder
from sizing.core.checks import Provenance
from sizing.core.inputs import CableStandard, InputOutOfRange
from sizing.tables import PrintedValue, by_size, cell, rows, weakest


@pytest.mark.parametrize(
    ("text", "standard", "words"),
    [
        ("10", "awg", "10 AWG"),
        ("#10", "awg", "10 AWG"),
        ("10 AWG", "awg", "10 AWG"),
        (" 10awg ", "awg", "10 AWG"),
        ("12 gauge", "awg", "12 AWG"),
        ("0", "awg", "1/0 AWG"),
        ("00", "awg", "2/0 AWG"),
        ("0000", "awg", "4/0 AWG"),
        ("2/0", "awg", "2/0 AWG"),
        ("250 kcmil", "awg", "250 kcmil"),
        ("300MCM", "awg", "300 kcmil"),
        ("10", "sae", "10 SAE"),
        ("10 SAE", "awg", "10 SAE"),
        ("10 AWG", "sae", "10 SAE"),
        ("10 AWG", "metric", "10 AWG"),
        ("16", "metric", "16 mm²"),
        ("16 mm²", "awg", "16 mm²"),
        ("2,5mm2", "awg", "2.5 mm²"),
        ("1.5 sqmm", "awg", "1.5 mm²"),
    ],
)
def test_it_reads_what_people_write(text, standard, words):
    assert conductor(text, standard).words == words


@pytest.mark.parametrize(
    ("text", "standard", "message"),
    [
        ("11", "awg", "no awg conductor"),
        ("", "awg", "no awg conductor"),
        ("7", "metric", "no metric conductor"),
        ("3", "sae", "no sae conductor"),
        ("10", "ansi", 'must be "awg", "sae" or "metric"'),
    ],
)
def test_it_refuses_sizes_no_table_has(text, standard, message):
    with pytest.raises(InputOutOfRange, match=message):
        conductor(text, standard)


@pytest.mark.parametrize("standard", list(CableStandard))
def test_the_ladder_climbs(standard):
    sizes = ladder(standard)
    areas = [each.area_mm2 for each in sizes]
    resistances = [each.resistance_ohm_per_m() for each in sizes]
    assert areas == sorted(areas)
    assert resistances == sorted(resistances, reverse=True)
    assert sizes[-1].at_least(sizes[0])
    assert not sizes[0].at_least(sizes[-1])


def test_sae_areas_are_printed_in_cable_tables():
    assert conductor("10", "sae").provenance is Provenance.PRINTED
    assert conductor("10").provenance is Provenance.PRINTED


def test_printed_basis_falls_back_where_nothing_is_printed():
    cable = conductor("10", "sae")
    assert cable.resistance_ohm_per_m(20.0, ResistanceBasis.PRINTED) == cable.resistance_ohm_per_m(20.0)


def test_tables_carry_source_and_provenance_on_every_row():
    names = (
        "conductors",
        "sae_wire_areas",
        "ampacity_33cfr183_table5",
        "ampacity_nec_310_16",
        "ampacity_nec_310_17_free_air",
        "ampacity_metric",
        "ampacity_ambient_correction",
        "ampacity_conductor_count_adjustment",
        "rooftop_adder_nec",
        "small_conductor_limits_nec_240_4_d",
        "low_voltage_limits_nec_552_10",
        "ocpd_standard_sizes",
        "ocpd_interrupt_requirement_abyc",
        "battery_fault",
        "terminal_torque",
        "factors_abyc_33cfr",
    )
    for name in names:
        for row in rows(name):
            assert row.source not in ("", "same", "as above"), name
            assert isinstance(row.provenance, Provenance)


def test_an_empty_cell_is_not_printed():
    row = by_size("ampacity_nec_310_16")["18"]
    assert cell(row, "a_60C") is None
    assert cell(row, "a_90C") == PrintedValue(14.0, row.source, row.provenance, row.note)


def test_weakest_provenance():
    assert weakest(Provenance.PRINTED, Provenance.MEMORY, Provenance.MAKER) is Provenance.MEMORY
