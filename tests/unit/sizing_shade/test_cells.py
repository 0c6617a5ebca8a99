"""From a data sheet to a panel type, and the doors of the package that must stay light."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import replace

import pytest

import sizing
from sizing.shade.engine.geometry import kinds_arrays
from sizing.shade.engine.place import rated_power_w
from sizing.shade.scene.cells import guess_grid, panel_type_from_sheet, panel_type_json
from sizing.shade.scene.scene import SceneError
from tests.designs import panel


def sheet(**changes):
    made = panel("S110", 110, (1.1, 0.56, 0.03), 7.0, (18.6, 22.4), (5.92, 6.25), (0.28, 0.36), 15, 36)
    return replace(made, **changes)


def rated(kind):
    return float(rated_power_w(kinds_arrays([kind]))[0])


def test_a_sheet_without_diode_parameters_keeps_its_rated_power():
    kind = panel_type_from_sheet(sheet(single_diode=None))
    assert (kind.nx, kind.ny, kind.n_bypass, kind.halves) == (9, 4, 2, 1)
    assert rated(kind) == pytest.approx(18.6 * 5.92, rel=0.01)


@pytest.mark.parametrize("name", [m.name for m in sizing.find_modules("", pmp_from_w=195, limit=5)])
def test_modules_of_the_open_list_keep_their_rated_power(name):
    """CEC module list as bundled with pvlib: rated power within 1 % (the list's own rounding)."""
    found = sizing.module_by_name(name)
    spec = sizing.panel_from_module(found, mass_kg=20.0, length_m=1.65, width_m=1.0)
    assert rated(panel_type_from_sheet(spec)) == pytest.approx(found.pmp_w, rel=0.01)


def test_half_cut_panels_get_two_branches():
    spec = sheet(cells_in_series=54, is_half_cut=True, length_m=1.72, width_m=1.13, voc_v=37.1, vmp_v=31.0)
    grid = guess_grid(spec, 54)
    assert (grid.nx, grid.ny, grid.n_bypass, grid.halves) == (18, 6, 3, 2)
    kind = panel_type_from_sheet(replace(spec, single_diode=None))
    assert kind.n_series == 54
    assert rated(kind) == pytest.approx(31.0 * 5.92, rel=0.01)


def test_a_panel_without_working_diodes_has_one_group():
    kind = panel_type_from_sheet(sheet(bypass_diodes=0))
    assert (kind.n_bypass, kind.n_groups) == (0, 1)


def test_the_json_form_reads_back_equal():
    facts = panel_type_json(sheet())
    scene = {
        "roof": {"length": 3, "width": 2},
        "location": {"lat": 40, "lon": 0, "utc_offset_h": 0},
        "weather": {"model": "climate_grid"},
        "panel_types": {"S110": json.loads(json.dumps(facts))},
        "panels": [{"id": "A", "type": "S110", "x": 0, "y": 0}],
    }
    assert sizing.scene_from_json(scene).panel_types["S110"] == panel_type_from_sheet(sheet())


def test_sheets_that_fit_no_cell_are_refused():
    with pytest.raises(SceneError, match="no rectangular cell grid has 37 cells"):
        panel_type_from_sheet(sheet(cells_in_series=37))
    with pytest.raises(SceneError, match="no cell curve passes"):
        panel_type_from_sheet(sheet(single_diode=None, vmp_v=22.0))


def test_the_face_stays_light_until_it_is_used():
    code = (
        "import sys, sizing; sizing.SceneInput; "
        "print([m for m in ('numba', 'pvlib', 'pandas') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_kernels_find_a_folder_they_may_write(tmp_path, monkeypatch):
    from sizing.shade.kernels import jit

    monkeypatch.setattr(jit._SETTINGS, "CACHE_DIR", str(tmp_path / "kernels"))
    folder = jit.cache_folder()
    assert folder is not None
    assert folder.parent == tmp_path / "kernels"
    blocked = tmp_path / "file"
    blocked.write_text("")
    monkeypatch.setattr(jit._SETTINGS, "CACHE_DIR", str(blocked))
    monkeypatch.setattr(jit.tempfile, "gettempdir", lambda: str(tmp_path / "spare"))
    assert jit.cache_folder().is_relative_to(tmp_path / "spare")
    monkeypatch.setattr(jit.tempfile, "gettempdir", lambda: str(blocked))
    assert jit.cache_folder() is None
