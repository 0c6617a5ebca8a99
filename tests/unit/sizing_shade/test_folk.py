"""Rules of thumb answered with a roof's own numbers: against other wirings asked one by one."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

import sizing
from sizing.shade.scene.scene import Controller, Wiring
from tests.shade_scenes import scene


def rule(asked, words):
    """Return the one answer about a rule, or None; of a roof or of its answers."""
    answers = asked if isinstance(asked, tuple) else sizing.folk_answers(asked)
    found = [one for one in answers if one.sentence.startswith(f'"{words}')]
    assert len(found) <= 1
    return found[0] if found else None


def kwh(roof, *strings, v_min=15.0):
    """Return the mean year of some strings, each on a wide controller of its own or all on one."""
    make = Controller(strings=strings, v_min_v=v_min, v_max_v=1e4)
    return sizing.shade_year(replace(roof, wirings=(Wiring("w", (make,)),)), detail=False).wirings[0].mean_kwh


@pytest.fixture(scope="module")
def van():
    """Return the small van, wired 2s2p crosswise."""
    roof = scene("d1_small_van")
    return replace(roof, wirings=tuple(w for w in roof.wirings if w.name == "2s2p_cross"))


@pytest.fixture(scope="module")
def answers(van):
    """Return the van's answers, asked once."""
    return sizing.folk_answers(van)


def test_parallel_and_series_are_those_years_asked_alone(van, answers):
    v_min = van.wirings[0].controllers[0].v_min_v
    cross = sizing.shade_year(van, detail=False).wirings[0].mean_kwh
    parallel = kwh(van, ("A",), ("B",), ("C",), ("D",), v_min=v_min)
    series = kwh(van, ("A", "B", "C", "D"), v_min=v_min)
    assert rule(answers, "All in parallel").gain_kwh == pytest.approx(parallel - cross, rel=1e-6)
    told = rule(answers, "Series is worse in shade").sentence
    assert f"{abs(series - parallel):.0f} kWh a year" in told
    assert ("less than" in told) == (series < parallel)


def test_a_controller_for_each_panel_earns_the_gap_to_the_bound(van, answers):
    year = sizing.shade_year(van)
    answer = rule(answers, "One controller per panel")
    assert answer.gain_kwh == pytest.approx(year.own_trackers_kwh - year.wirings[0].mean_kwh, rel=1e-6)
    assert "3 more would give" in answer.sentence


def test_half_cells_and_whole_cells_are_each_other_s_answer(van, answers):
    """Cutting the cells and asking again must answer with the same two energies, the other way round."""
    gain = rule(answers, "Half cells").gain_kwh
    kind = next(iter(van.panel_types.values()))
    half = replace(kind, nx=2 * kind.nx, halves=2, cell=halved(kind.cell))
    cut_roof = replace(van, panel_types={kind.name: half})
    energy = [sizing.shade_year(one, detail=False).wirings[0] for one in (van, cut_roof)]
    assert energy[1].mean_kwh - energy[0].mean_kwh == pytest.approx(gain, abs=1e-6)
    assert energy[1].unshaded_kwh == pytest.approx(energy[0].unshaded_kwh, rel=1e-4)  # same panel in the sun
    back = rule(cut_roof, "Half cells")
    assert f"whole cells would give {abs(gain):.0f} kWh" in back.sentence


def halved(cell):
    """Return a cell of half the area: half the currents, twice the resistances."""
    return replace(
        cell,
        light_current_a=cell.light_current_a / 2,
        saturation_current_a=cell.saturation_current_a / 2,
        alpha_a_per_k=cell.alpha_a_per_k / 2,
        series_ohm=cell.series_ohm * 2,
        shunt_ohm=cell.shunt_ohm * 2,
    )


def test_the_nose_to_the_equator_is_read_from_the_year(van, answers):
    year = sizing.shade_year(van, detail=False).wirings[0]
    gain = year.kwh_by_heading[van.headings_deg.index(180.0)] - year.mean_kwh
    told = rule(answers, "Park with the nose south").sentence
    assert f"{abs(gain):.0f} kWh a year" in told
    assert ("more than the mean" in told) == (gain > 0)
    assert rule(replace(van, headings_deg=(0.0, 90.0)), "Park") is None


def test_distance_turning_and_bare_roofs():
    roof = scene("d3_half_cut_south")
    far = rule(roof, "Keep panels as far off")
    assert far.obstruction in {thing.name for thing in roof.obstructions}
    bare = replace(roof, obstructions=(), wirings=())
    said = [one.sentence for one in sizing.folk_answers(bare)]
    assert not any("as far off" in one or "One controller" in one for one in said)
    assert any('"Lay panels lengthwise" makes no difference here' in one for one in said) or not any(
        "lengthwise" in one for one in said
    )


def test_a_panel_with_room_is_tried_turned(van):
    roof = replace(
        van,
        roof=replace(van.roof, len_x_m=6.0, len_y_m=4.0),
        panels=(replace(van.panels[0], x_m=3.5, y_m=2.2),),
        wirings=(Wiring("A alone", (Controller(strings=(("A",),)),)),),
    )
    turned = rule(roof, "Lay panels lengthwise")
    kind, panel = roof.panel_type(roof.panels[0]), roof.panels[0]
    middle = (panel.x_m + kind.len_x_m / 2, panel.y_m + kind.len_y_m / 2)
    other = replace(panel, rot_deg=90, x_m=middle[0] - kind.len_y_m / 2, y_m=middle[1] - kind.len_x_m / 2)
    years = [
        sizing.shade_year(replace(roof, panels=(one,)), detail=False).wirings[0].mean_kwh
        for one in (panel, other)
    ]
    assert panel.rot_deg == 0
    assert turned.gain_kwh == pytest.approx(years[1] - years[0], abs=1e-6)
    assert rule(roof, "Series") is None


def test_every_answer_is_a_plain_sentence_with_a_verdict(answers):
    assert len(answers) >= 5
    for one in answers:
        assert one.kind == "folk"
        assert re.search(r"here|earns", one.sentence)
        assert one.sentence.endswith(".")


def test_a_wiring_nobody_named_is_refused(van):
    with pytest.raises(sizing.SceneError, match="has none named '9s'"):
        sizing.folk_answers(van, main="9s")


def test_rules_that_cannot_be_tried_are_left_out(van):
    """Panels of both kinds of cell, and a tilted one: neither cut nor turned."""
    kind = next(iter(van.panel_types.values()))
    half = replace(kind, name="H", nx=2 * kind.nx, halves=2, cell=halved(kind.cell))
    panels = (replace(van.panels[0], tilt_deg=10.0), replace(van.panels[1], type_name="H"))
    mixed = replace(
        van, panel_types={kind.name: kind, "H": half}, panels=panels, wirings=(), headings_deg=(0.0,)
    )
    assert rule(mixed, "Half cells") is None
    assert rule(mixed, "Park") is None
