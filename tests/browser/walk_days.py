"""Knows the days in the bay: who does what at which step, where somebody errs, and who puts it right."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from playwright.sync_api import expect

from tests.browser.walk_install import LOOKED_AT, Shown, fill, read_safety, shown
from tests.browser.walk_pages import Walker

NEXT = re.compile("Save( all)?, next open step")
REASON = "Run goes round the shower; the customer agreed to the longer way."


@dataclass
class Bay:
    """The people of the bay: a technician and a licensed lead technician on tablets, the owner at a desk."""

    tech: Walker
    lead: Walker
    owner: Walker
    job: str

    def work(self) -> None:
        """Walk every step from arrival to sign-off."""
        self.tech.open(f"{self.job}install/", "install")
        self.tech.press("Go on")
        while (what := shown(self.tech)).role != "sign_off":
            if what.role in LOOKED_AT:
                self.tech.look(f"step-{what.code}")
            SPECIAL.get(what.role, Bay.as_it_should_be)(self, what)
            if shown(self.tech).code == what.code:
                self.tech.press(NEXT)
            assert shown(self.tech).code != what.code, self.tech.text()

    def as_it_should_be(self, what: Shown) -> None:
        """Nothing happens here."""
        fill(self.tech)

    def retype(self, name: str, text: str, cause: str = "") -> None:
        """Type another value where one stands already, and save."""
        page = self.tech.page
        field = page.locator(f"#field-{name}")
        folded = field.locator("details.change:not([open]) > summary")
        if folded.count():
            folded.click()
        field.locator(f'[name="{name}"]').fill(text)
        if cause:
            field.locator(f'[name="cause_{name}"]').select_option(cause)
        self.tech.press("Save and stay")

    def wrong_vin(self, what: Shown) -> None:
        """The wrong vehicle is noticed; what is cut off and climbed on stays shut until it was checked in."""
        tech = self.tech
        tech.fill({"vin_tail": "000000"})
        tech.press("Save and stay")
        expect(tech.page.get_by_role("alert")).to_contain_text("Read the safety lines above first")
        read_safety(tech)
        tech.press("Save and stay")
        expect(tech.page.get_by_role("alert")).to_contain_text("Look again before it is saved")
        tech.page.locator("#sure").check()
        tech.press("Save and stay")
        expect(tech.page.locator("#field-vin_tail")).to_have_class(re.compile("field-fail"))
        self.retype("vin_tail", "003456")
        fill(tech)
        address = tech.page.url.removeprefix(tech.site)
        self._shut_phase()
        tech.open(address)

    def _shut_phase(self) -> None:
        tech = self.tech
        tech.open(f"{self.job}install/")
        phase = tech.page.locator("#phase-B")
        phase.locator("> summary").click()
        with tech.arriving():
            phase.get_by_role("link").first.click()
        expect(tech.page.get_by_text("This step is locked")).to_be_visible()
        expect(tech.page.get_by_role("button", name="Save")).to_have_count(0)
        tech.look("step-locked")

    def no_photo(self, what: Shown) -> None:
        """The pictures of the sides and the ceiling are forgotten."""
        fill(self.tech, without=("photo",))
        self.tech.press("Save and stay")
        self.tech.press(re.compile("On to A3"), self.tech.page.locator("body"))

    def passed_by_owner(self, what: Shown) -> None:
        """The hold refuses for the pictures; the owner lets it pass, with a reason that says something."""
        fill(self.tech)
        self.tech.press("Save and stay")
        expect(self.tech.page.get_by_text("Hold not passed")).to_be_visible()
        expect(self.tech.page.get_by_text("1 thing keeps it from passing")).to_be_visible()
        owner = self.owner
        owner.open(self.tech.page.url.removeprefix(owner.site))
        owner.press("Override it, with a reason")
        owner.look("hold-override")
        owner.fill({"reason": "fine"})
        owner.press("Override the hold")
        expect(owner.page.get_by_role("alert")).to_contain_text("15 characters")
        owner.fill({"reason": "Ceiling seen with the owner, no stain; tablet was flat."})
        owner.press("Override the hold")
        self.tech.page.reload(wait_until="domcontentloaded")
        expect(self.tech.page.get_by_text("Overridden by the owner")).to_be_visible()

    def by_the_lead(self, what: Shown) -> None:
        """The technician's own word is not enough here: the lead technician's is."""
        fill(self.tech, without=("accepted", "caution", "go"))
        self._lead_fills()
        expect(self.tech.page.get_by_text("Hold passed")).to_be_visible()

    def named_and_confirmed(self, what: Shown) -> None:
        """The technician writes the licensed person's name and number; that person confirms, signed in."""
        fill(self.tech, without=("confirmed",))
        self.tech.press("Save and stay")
        self._lead_fills()
        expect(self.tech.page.get_by_text("Hold passed")).to_be_visible()

    def by_the_licensed(self, what: Shown) -> None:
        """120 V is for the person named as licensed, who records it at the same step."""
        self._lead_fills()

    def _lead_fills(self) -> None:
        self.lead.open(self.tech.page.url.removeprefix(self.tech.site))
        fill(self.lead)
        if self.lead.page.get_by_role("button", name="Save and stay").count():
            self.lead.press("Save and stay")
        self.tech.page.reload(wait_until="domcontentloaded")

    def forgotten_seal(self, what: Shown) -> None:
        """The seal of the one cable hole is forgotten, and counted as it is."""
        fill(self.tech, cable_holes="1", cable_holes_sealed="0")

    def count_holes(self, what: Shown) -> None:
        """Every hole counted: 72 under, 72 over; the hold tells of the cable hole, which is then sealed."""
        tech = self.tech
        expect(tech.page.get_by_text("72 holes made; sealed under 72, sealed over 72.")).to_be_visible()
        fill(tech)
        expect(tech.page.get_by_text("Hold not passed")).to_be_visible()
        expect(tech.page.locator("main")).to_contain_text("1 made, 0 sealed")
        here = tech.page.url.removeprefix(tech.site)
        tech.open(f"{self.job}install/")
        tech.page.locator("#phase-D > summary").click()
        tech.press(re.compile("^D5 "))
        self.retype("cable_holes_sealed", "1")
        tech.open(here)
        expect(tech.page.get_by_text("Hold passed")).to_be_visible()

    def longer_run(self, what: Shown) -> None:
        """The home run is 10.4 m, not 7.2: the drop is judged at once; the owner lets it stand."""
        tech, owner = self.tech, self.owner
        fill(tech)
        notice = tech.page.locator(".notice-warning", has_text="voltage drop went from pass to caution").last
        # F13, NFPA 70 (2017) chapter 9 table 8: 2.27 % at 7.2 m is 3.28 % at 10.4 m.
        expect(notice).to_contain_text("limit 3%")
        assert abs(_percent(notice.inner_text()) - 2.27 * 10.4 / 7.2) < 0.05
        tech.look("step-deviation")
        owner.open(f"{self.job}install/", "install-owner")
        owner.press(re.compile("combiner–controller: voltage drop"))
        owner.look("deviation")
        owner.fill({"reason": REASON})
        owner.press("Accept it, with this reason")
        owner.look("deviation-accepted")

    def low_reading(self, what: Shown) -> None:
        """A reading far below what the sun should give fails, is read again with a cause, and passes.

        The table tells what was expected beside what was read.
        """
        tech = self.tech
        first = tech.page.locator(".step-table tbody tr").first
        first.locator('input[name$="-voc_v"]').fill("39")
        read_safety(tech)
        tech.press("Save all and stay")
        expect(tech.page.get_by_role("alert")).to_contain_text("Look again before it is saved")
        tech.look("step-table-doubt")
        tech.page.locator("#sure").check()
        read_safety(tech)
        tech.press("Save all and stay")
        table = tech.page.url.removeprefix(tech.site)
        tech.open(first.locator("th a").get_attribute("href") or "")
        expect(tech.page.locator("#field-voc_v")).to_have_class(re.compile("field-fail"))
        # IEC 62446-1: measured against what is expected at 820 W/m² and 48 °C cells (F28).
        expect(tech.page.locator("#field-voc_v")).to_contain_text("45.1 V")
        tech.look("step-string-failed")
        self.retype("voc_v", "45.0", cause="Meter or lead was wrong")
        expect(tech.page.locator("#field-voc_v")).not_to_have_class(re.compile("field-fail"))
        tech.open(table)
        fill(tech)
        said = tech.text()
        assert "45.1 V 45.0 V" in said
        assert "8.46 A 8.45 A" in said


SPECIAL: dict[str, Callable[[Bay, Shown], None]] = {
    "right_vehicle": Bay.wrong_vin,
    "walk_round": Bay.no_photo,
    "custody": Bay.passed_by_owner,
    "home_run_length": Bay.longer_run,
    "layout_accepted": Bay.by_the_lead,
    "cable_entry": Bay.forgotten_seal,
    "seal_count": Bay.count_holes,
    "licensed_person": Bay.named_and_confirmed,
    "go": Bay.by_the_lead,
    "string_tests": Bay.low_reading,
} | dict.fromkeys(
    (
        "ac_wired", "neutral_kind", "ac_dead_check", "ac_accepted", "inverter_alone", "shore_on",
        "gfci_transfer",
    ),
    Bay.by_the_licensed,
)  # fmt: skip


def _percent(text: str) -> float:
    found = re.search(r"= ([\d.]+)%", text)
    assert found is not None, text
    return float(found[1])
