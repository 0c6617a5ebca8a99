"""SAE cable, clamp torque and fuse families against what is printed, quoted or remembered elsewhere.

SAE areas: boat-wire and automotive cable tables (6 SAE 24,538 cmil, 12.43 mm²; 3/0 in one of them only).
Torque: UL 486A-B as NFPA 70 annex I table I.1, wide slot, from memory; 1 lbf·in = 0.112985 N·m.
Fuse families: each fixture row names its source; the engine never gives pass on those from memory.
"""

from __future__ import annotations

import pytest

from sizing.cable.circuit_kinds import Joint, joint_torque
from sizing.cable.conductors import conductor
from sizing.cable.overcurrent import family
from sizing.core.checks import Provenance
from tests.published.reading import printed

NEWTON_METRE_PER_LBF_IN = 0.112985
KNOWN = {
    "printed": Provenance.PRINTED,
    "quoted": Provenance.QUOTED,
    "quoted once": Provenance.QUOTED_ONCE,
    "from memory": Provenance.MEMORY,
}


@pytest.mark.parametrize("row", printed("sae_areas"), ids=lambda row: row["size"])
def test_sae_areas(row):
    cable = conductor(row["size"], "sae")
    assert cable.area_cmil == float(row["area_cmil"])
    assert cable.area_mm2 == pytest.approx(
        float(row["area_cmil"]) / 1973.525, rel=5e-3
    )  # printed to 0.01 mm²
    assert cable.area_mm2 < conductor(row["size"]).area_mm2


@pytest.mark.parametrize("row", printed("clamp_torque"), ids=lambda row: row["size"])
def test_clamp_torque(row):
    found = joint_torque(Joint.CLAMP, conductor(row["size"]))
    assert found.torque_nm == pytest.approx(float(row["torque_lbf_in"]) * NEWTON_METRE_PER_LBF_IN, abs=0.06)


@pytest.mark.parametrize(("joint", "low_lb_ft", "high_lb_ft"), [(Joint.INVERTER_STUD, 10, 12)])
def test_stud_torque(joint, low_lb_ft, high_lb_ft):
    """An inverter maker's manual: 10 to 12 lb-ft on the 5/16 in stud; 1 lb-ft = 1.3558 N·m."""
    found = joint_torque(joint, conductor("4/0"))
    assert found.low_nm == pytest.approx(low_lb_ft * 1.3558, abs=0.05)
    assert found.high_nm == pytest.approx(high_lb_ft * 1.3558, abs=0.05)


@pytest.mark.parametrize("row", printed("fuse_families"), ids=lambda row: row["family"])
def test_fuse_families(row):
    found = family(row["family"])
    assert found.dc_voltage_v == float(row["dc_voltage_v"])
    assert found.interrupting_a(12.0) == float(row["interrupt_a"])
    known = found.interrupting_provenance(12.0)
    assert known is KNOWN[row["provenance"]]


def test_terminal_fuses_above_14_volts_are_quoted_once():
    """Steps 10 kA at 14 V, 5 kA at 32 V, 2 kA at 58 V: the first in three texts, the others in one."""
    post = family("terminal fuse")
    assert [post.interrupting_a(volts) for volts in (12.0, 24.0, 48.0)] == [10_000, 5_000, 2_000]
    known = [post.interrupting_provenance(volts) for volts in (12.0, 24.0, 48.0)]
    assert known == [Provenance.QUOTED, Provenance.QUOTED_ONCE, Provenance.QUOTED_ONCE]
