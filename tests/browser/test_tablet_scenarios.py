"""Three days on a roof without a network: the longer path, the counted holes, two writers and a changed plan.

2 × 10.4 m × 19.6 A × 3.277 mΩ/m = 1.336 V of 20.4 V = 6.55 % (resistance of solid copper, NFPA 70 (2017)
chapter 9 table 8). Holes are counted: feet × screws + gland screws.
"""

from __future__ import annotations

import pytest
from django.utils import timezone

from checklists.models import Checklist, SignOff, StepEvent
from checklists.selectors.sheet import sheet_draft
from checklists.services.sums import sums_of
from jobs.models import Shop
from tests.browser.test_tablet_shell import Shell, number
from tests.browser.turns import ONE_AT_A_TIME
from tests.unit.checklists.conftest import (  # noqa: F401
    checklist,
    entry,
    media,
    record,
    two_panel_checklist,
)
from tests.unit.checklists.test_plan_change import adopt, other_controller, reopened, revise  # noqa: F401
from tests.unit.checklists.test_seals import seal, six_feet  # noqa: F401
from tests.unit.checklists.walk import complete

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def on_the_roof(page, site, sign_in, bob):
    """Return a way to take a job along as Bob and lose the network."""

    def make(job: Checklist, *, with_sums: bool = False) -> Shell:
        Shop.objects.filter(pk=job.job.shop_id).update(units="metric")
        if with_sums:
            sums_of(job, at=timezone.now())
        sign_in(bob)
        page.set_viewport_size({"width": 820, "height": 1180})
        shell = Shell(page, site, job)
        shell.take()
        page.context.set_offline(True)
        return shell

    return make


def test_a_longer_path_on_thinner_wire_is_told_at_once(on_the_roof, two_panel_checklist):  # noqa: F811
    shell = on_the_roof(two_panel_checklist, with_sums=True)
    shell.step("F2", "circuit:C2")
    shell.page.get_by_role("button", name="10 AWG", exact=True).click()
    shell.page.locator(".choice-on", has_text="10 AWG").wait_for()
    shell.step("F1", "circuit:C2")
    shell.page.locator(".number-open").click()
    for key in ("1", "0", "Point", "4"):
        shell.page.get_by_role("button", name=key, exact=True).click()
    shell.page.locator(".pad-says", has_text="6.55 %").wait_for()  # while it is typed
    shell.page.locator(".pad-save").click()
    shell.page.locator(".notice", has_text="6.55 %").wait_for()
    shell.go("/circuits")
    shell.page.locator("tr", has_text="combiner").get_by_text("6.55%").wait_for()
    assert not shell.faults


def test_every_hole_is_counted_where_the_work_is(on_the_roof, six_feet, seal):  # noqa: F811
    seal(six_feet, "D3", gland=False, panels="123")
    seal(six_feet, "D7")
    shell = on_the_roof(six_feet)
    page = shell.page
    shell.go("/seals")
    panel = page.locator("section", has=page.get_by_role("heading", name="Panel 4"))
    for foot in range(1, 7):
        panel.get_by_role("button", name=f"Foot {foot}: holes sealed under").click()
        panel.locator(".foot-done", has_text=f"Foot {foot}").nth(1).wait_for()
    page.get_by_text("104 holes made; sealed under 96, sealed over 104").wait_for()
    shell.step("D12")
    page.get_by_text("Sealed under: 96 of 104, 8 under missing (gland box 8)").first.wait_for()
    shell.step("D3", "gland:box")
    page.locator("button.tick", has_text="all 8").click()
    page.locator(".standing-value").wait_for()
    for name in "12":
        shell.step("D2", f"panel:{name}")
        number(shell, "Feet fitted", "8")
    shell.go("/seals")
    page.get_by_text("Sealed under: 104 of 120, 16 under missing (panel 1 8, panel 2 8)").wait_for()
    shell.step("D2", "panel:3")
    number(shell, "Feet fitted", "5")
    shell.go("/seals")
    page.get_by_text("4 unused holes to patch, 0 patched").wait_for()
    assert not shell.faults


def test_two_writers_and_a_changed_plan(on_the_roof, checklist, record, revise, adopt, lena):  # noqa: F811
    shell = on_the_roof(checklist)
    shell.step("A4")
    shell.tick("Every light and appliance tried")
    shell.step("F4", "controller:A")
    number(shell, "Rated DC voltage", "150")
    shell.step("G6", "joint:battery-1")
    number(shell, "Positive", "11")
    with ONE_AT_A_TIME:
        record(checklist, "G6", "plus_nm", 9.0, "joint:battery-1", actor=lena)
        adopt(revise(other_controller))
    shell.page.context.set_offline(False)
    shell.state("All sent")
    shell.page.get_by_text("Which one is right?").first.wait_for()
    assert shell.page.get_by_text("11 N·m is right").count() == 1
    assert shell.page.get_by_text("9 N·m is right").count() == 1
    shell.step("F4", "controller:A")
    shell.page.get_by_text("done on revision 1; the plan has changed, look again").first.wait_for()
    with ONE_AT_A_TIME:
        assert {event.design_number for event in StepEvent.objects.filter(by__username="bob")} == {1}
        expected = reopened(checklist)
    shell.go("")
    told = shell.page.evaluate(
        "() => [...document.querySelectorAll('.step-row')]"
        ".filter((row) => row.textContent.includes('opened again'))"
        ".map((row) => row.querySelector('.step-code').textContent)"
    )
    assert told == sorted(key.split(" ")[0] for key in expected)
    assert "F4" in told
    assert not shell.faults


def test_the_customer_signs_for_what_was_shown(on_the_roof, checklist, lena, now):  # noqa: F811
    complete(checklist, lena, now)
    shell = on_the_roof(checklist)
    shell.go("/hand-over")
    page = shell.page
    place = page.locator("section", has=page.get_by_role("heading", name="Customer: received and taught"))
    place.locator("canvas").scroll_into_view_if_needed()
    box = place.locator("canvas").bounding_box()
    page.mouse.move(box["x"] + 40, box["y"] + 60)
    page.mouse.down()
    page.mouse.move(box["x"] + 200, box["y"] + 90, steps=6)
    page.mouse.up()
    place.get_by_role("button", name="Sign as customer").click()
    page.get_by_text("saved here, not sent yet").wait_for()
    page.context.set_offline(False)
    page.get_by_text("sent, stands under the sheet").wait_for()
    with ONE_AT_A_TIME:
        signed = SignOff.objects.get()
        draft = sheet_draft(Checklist.objects.get(pk=checklist.pk))
        assert (signed.problem, signed.part) == ("", "customer")
        assert signed.content_sha256 == draft.content_sha256
        assert "customer" not in draft.missing_parts
    assert not shell.faults
