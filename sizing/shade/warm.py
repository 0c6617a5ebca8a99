"""Compiles and caches every kernel before the first question."""

from __future__ import annotations

from sizing.shade.answers.check import shade_check
from sizing.shade.answers.live import live_year
from sizing.shade.answers.maps import beam_lost_map
from sizing.shade.answers.moment import shade_moment
from sizing.shade.answers.wirings import rank_wirings
from sizing.shade.answers.year import shade_year
from sizing.shade.scene.read_scene import scene_from_json

_CELL = {"IL": 6.0, "I0": 1e-10, "n": 1.1, "Rs": 0.005, "Rsh": 20.0, "alpha_A_K": 0.003}
_SMALL = {
    "name": "warm-up",
    "roof": {"length": 3.0, "width": 2.0},
    "location": {"lat": 40.0, "lon": 0.0, "altitude_m": 0.0, "utc_offset_h": 0},
    "weather": {"model": "ineichen", "linke_turbidity": 3.0, "t_mean_c": 15.0},
    "panel_types": {
        "T": {
            "lx": 1.0,
            "ly": 0.5,
            "nx": 4,
            "ny": 2,
            "n_bypass": 2,
            "halves": 2,
            "margin": 0.01,
            "cell": _CELL,
        }
    },
    "obstructions": [
        {"kind": "box", "cx": 1.5, "cy": 1.0, "lx": 0.3, "ly": 0.3, "h": 0.3},
        {"kind": "dome", "cx": 0.5, "cy": 1.0, "r": 0.1, "h": 0.2},
        {"kind": "cylinder", "cx": 2.5, "cy": 1.0, "r": 0.02, "h": 0.5},
    ],
    "panels": [
        {"id": "A", "type": "T", "x": 0.2, "y": 0.1, "z": 0.06},
        {"id": "B", "type": "T", "x": 1.7, "y": 1.4, "z": 0.06, "tilt_deg": 0.0},
    ],
    "wirings": {
        "2p": {"controllers": [{"v_min": 1.0, "v_max": 100.0, "p_max": 60.0, "strings": [["A"], ["B"]]}]},
        "2s": {"controllers": [{"v_min": 1.0, "v_max": 100.0, "strings": [["A", "B"]]}]},
    },
    "headings_deg": [0.0, 90.0],
}


def warm_shade(*, every: bool = True) -> None:
    """Compile and cache the kernels of the shade engine by asking small questions.

    Parameters
    ----------
    every : bool
        Also the every-hour path and automatic layout. [-]

    Returns
    -------
    None
        Nothing; the kernel cache is filled.

    Raises
    ------
    Nothing
        A machine without a writable cache folder compiles again in each process.

    References
    ----------
    .. [1] numba documentation, caching of compiled functions.
    """
    scene = scene_from_json(_SMALL)
    shade_year(scene)
    live_year(scene)
    rank_wirings(scene)
    shade_moment(scene, when="2023-06-21T12:00", heading_deg=0.0)
    if every:
        from sizing.shade.layout.best import search_layout
        from sizing.shade.scene.lay_rules import LayoutRules

        beam_lost_map(scene)
        shade_check(scene)
        search_layout(scene, LayoutRules(grid_m=0.2, time_limit_s=5.0))
