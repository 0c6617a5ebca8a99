"""How much a hand has to do: the whole list on the tablet, every tap, typed value and photo counted.

The goals are the shop's own: two panels without a battery in 60 records and 250 taps, with a lithium pair in
450 taps. A record is one saved line of the list: a group tick, a table, or a value with its photos.
"""

from __future__ import annotations

import pytest

from jobs.models import DesignPanel, Shop
from tests.browser.test_tablet_shell import UPRIGHT, Shell
from tests.browser.walk_tablet import Hand, good_values, tools_of
from tests.unit.checklists.conftest import media, open_for  # noqa: F401

pytestmark = pytest.mark.django_db(transaction=True)


def two_panels(job, now, *, with_battery: bool):
    """Return the install of two panels on one controller: kept bank, or a new pair of lithium batteries."""
    design = job.designs.first()
    design.panels.filter(number__gt=2).delete()
    strings = {string.number: string for string in design.strings.all()}
    for panel in DesignPanel.objects.filter(design=design):
        panel.string, panel.position_in_string = strings[panel.number], 1
        panel.save()
    design.sources.filter(part__isnull=False).delete()
    design.inverter.is_new = False
    design.inverter.save()
    design.bank.is_new, design.bank.quantity = with_battery, 2
    design.bank.save()
    design.runs.all().delete()
    return open_for(job, now, "2")


#: One panel to a string, where the office's walk reads two: half the volts, twice the strings.
ONE_IN_A_STRING = {
    "string_tests.isc_how": "running",  # the maker forbids the short
    "polarity_proven.voc_v": 23.6, "string_tests.voc_v": 22.5, "pv_on.combiner_v": 19.0,
    "pv_on.controller_v": 18.7, "pv_on.pv_a": 15.0, "pv_on.battery_a": 19.0,
}  # fmt: skip


@pytest.mark.parametrize(
    ("with_battery", "most"),
    [pytest.param(False, 250, id="no battery"), pytest.param(True, 450, id="a pair", marks=pytest.mark.full)],
)
def test_the_whole_list_takes_few_taps(
    page, site, sign_in, lena, golden_job, now, monkeypatch, with_battery, most
):
    checklist = two_panels(golden_job, now, with_battery=with_battery)
    good = good_values(checklist, now, ONE_IN_A_STRING)
    tools = tools_of(checklist, good)
    monkeypatch.setattr("checklists.tablet.download.remembered", lambda shop: tools)
    Shop.objects.filter(pk=checklist.job.shop_id).update(units="metric")
    sign_in(lena)
    page.set_viewport_size(UPRIGHT)
    page.set_default_timeout(10_000)
    shell = Shell(page, site, checklist)
    shell.take()
    found = Hand(shell, good).walk("M3")
    print(f"\ntwo panels, {'lithium pair' if with_battery else 'no battery'}: {found}")
    assert found["hand"] <= most
    assert with_battery or found["records"] <= 60
    assert not shell.faults
