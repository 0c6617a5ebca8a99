"""What a shop wrote at one job is offered at the next, to itself alone."""

from __future__ import annotations

from checklists.tablet.remembered import OFFERED, remembered
from jobs.models import Shop


def test_the_newest_values_come_first_and_each_once(second_list, record, now):
    for day, name in enumerate(["M-01", "M-02", "M-01", "M-03", "M-04", "M-05"]):
        record(second_list, "proven_dead", "meter", name, at=now.replace(hour=day + 1))
    found = remembered(second_list.job.shop)
    assert found["meter"] == ["M-05", "M-04", "M-03", "M-01"]
    assert len(found["meter"]) == OFFERED


def test_tools_of_one_kind_serve_each_other(second_list, record):
    record(second_list, "torque_pv", "wrench", "Wrench 7")
    assert remembered(second_list.job.shop)["wrench"] == ["Wrench 7"]


def test_another_shop_is_offered_nothing_of_it(second_list, record):
    record(second_list, "proven_dead", "meter", "M-01")
    assert remembered(Shop.objects.create(name="Elsewhere")) == {}
