"""Which short circuit devices are judged by once leads were measured: tablet and office tell the same."""

from __future__ import annotations

from dataclasses import replace

import pytest

import sizing
from jobs.engine.as_built import Built, leads_are_less, planned_leads
from tests.designs import golden


def paths(**values: object) -> dict[str, float]:
    named = {name.replace("__", ".").replace("C", "circuit:C", 1): value for name, value in values.items()}
    return dict(Built(named).applied_to(golden()).settled_paths)


def planned() -> dict[str, float]:
    return dict(sizing.fault_paths(golden()))


@pytest.mark.parametrize("values", [{"C4__run_len_m": 0.15}, {"C4__run_len_m": 0.6}, {"C3__run_len_m": 0.1}])
def test_a_lead_as_planned_or_longer_keeps_the_planned_paths(values):
    """More copper lets less through: the planned figure is the careful one."""
    assert paths(**values) == planned()


@pytest.mark.parametrize(
    "values",
    [{"C4__run_len_m": 0.1}, {"C4__size": "4/0"}, {"C4__fuse_distance_m": 0.05}, {"C4__size": "1/0"}],
)
def test_a_shorter_lead_or_another_size_counts_no_lead_at_all(values):
    found = paths(**values)
    assert found.keys() == planned().keys()
    assert set(found.values()) == {0.0}


def test_the_way_to_the_main_device_ends_at_the_device():
    """Planned 0.15 m of cable with the device 0.15 m away: whichever is less is what was planned."""
    main = replace(golden().circuits[2], run_len_m=0.3)
    changed = tuple(main if each.id == "C4" else each for each in golden().circuits)
    leads = planned_leads(replace(golden(), circuits=changed))
    assert leads["circuit:C4.fuse_distance_m"] == pytest.approx(0.15)
    assert leads_are_less({"circuit:C4.fuse_distance_m": 0.14}, leads)
    assert not leads_are_less({"circuit:C4.fuse_distance_m": 0.15}, leads)


def test_a_device_is_never_judged_milder_than_by_its_own_leads():
    """For any length of the main's cable the limit is at least that of the sums with that length."""
    for length_m in (0.05, 0.15, 0.4, 2.0):
        built = Built({"circuit:C4.run_len_m": length_m}).applied_to(golden())
        exact = replace(built, settled_paths=())
        for key in ("circuit:C4/interrupting", "circuit:C6/interrupting"):
            judged, own = sizing.size_system(built).check(key), sizing.size_system(exact).check(key)
            assert judged.limit >= own.limit - 1e-6
