"""The drop of a short leg, whose figure cold volts rest on, feet of slim panels."""

from __future__ import annotations

from dataclasses import replace

import pytest

import sizing
from sizing.array.controller import run_drop_v
from sizing.core.checks import Provenance, Verdict
from tests.designs import P200, controller, golden, placed


def test_a_leg_of_less_than_a_volt_counts_as_what_it_is():
    """Two kinds of leg, the worse of each: 0.4 and 0.2 V by hand, not a volt each."""
    rows = sizing.size_system(golden()).circuits
    made = tuple(
        replace(rows[0], id=name, from_to=leg, drop_v=volts)
        for name, leg, volts in (("a", "strings", 0.1), ("b", "strings", 0.4), ("c", "home run", 0.2))
    )
    seen = sizing.controller_results(golden())[0]
    assert run_drop_v(controller(), seen, made) == (pytest.approx(0.6), "the wire's drop")


@pytest.mark.parametrize(
    ("beta", "provenance", "named"),
    [(None, Provenance.PRINTED, "690.7(A)"), (-0.0028, Provenance.MAKER, "coefficient")],
)
def test_cold_volts_say_whose_figure_they_rest_on(beta, provenance, named):
    """NFPA 70 (2017) 690.7(A): the table where the module's coefficient is not given."""
    bare = replace(P200, beta_voc_fraction_per_c=beta)
    found = sizing.size_system(replace(golden(), panels=placed(bare, 4))).check("controller:A/cold_voc")
    assert found.provenance is provenance
    assert named in found.source


@pytest.mark.parametrize(("length_m", "verdict"), [(1.59, None), (1.7, Verdict.CAUTION)])
def test_a_long_slim_panel_asks_for_six_feet(length_m, verdict):
    """Above 1.6 m, however small its area: common practice, no source."""
    slim = replace(P200, length_m=length_m, width_m=0.5)
    found = sizing.size_system(replace(golden(), panels=placed(slim, 4))).checks
    feet = next((check for check in found if check.key == f"panel:{slim.name}/feet"), None)
    assert (feet.verdict if feet else None) is verdict
