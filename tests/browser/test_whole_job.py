"""One job from the first call to the signed sheet, in a browser, as the people of a shop do it.

Expected numbers are worked by hand from the published rules named beside them; the vehicle, the people and
the equipment are invented. Wh, A, V and N are rounded as the pages round them.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, expect

from tests.browser import walk_values as typed
from tests.browser.walk_days import REASON, Bay
from tests.browser.walk_office import design, survey, take_the_call
from tests.browser.walk_pages import DESK, TABLET, Walker, sign_in
from tests.browser.walk_papers import is_archival, print_sheet, sign, text_of
from tests.browser.walk_quote import accept, send

pytestmark = pytest.mark.django_db(transaction=True)
PASSWORD = "seven-screws-in-a-row"
PHONE = (390, 844)


@pytest.fixture
def demo_catalogue(shop: Any) -> None:
    """Give Alice's shop the invented catalog and nothing else of the demo shop."""
    from config.start.catalog import catalog_copy

    catalog_copy(shop)


@pytest.fixture
def walker(browser: Browser, site: str) -> Iterator[Callable[..., Walker]]:
    """Return a maker of people, each at a browser of their own; they share what is found wrong."""
    faults: list[str] = []
    kinds: set[str] = set()
    contexts = []

    def make(size: tuple[int, int], user: Any = None, **options: Any) -> Walker:
        context = browser.new_context(viewport={"width": size[0], "height": size[1]}, **options)
        context.set_default_timeout(60_000)
        contexts.append(context)
        found = Walker(context.new_page(), site, faults, kinds)
        if user is not None:
            user.set_password(PASSWORD)
            user.save()
            sign_in(found, user.email, PASSWORD)
        return found

    yield make
    for context in contexts:
        context.close()
    assert not faults, "\n".join(faults)


def test_the_whole_job(
    walker: Callable[..., Walker],
    demo_catalogue: None,
    alice: Any,
    bob: Any,
    lena: Any,
    settings: Any,
    tmp_path: Any,
):
    settings.MEDIA_ROOT = tmp_path
    owner = walker(DESK, alice)
    job = take_the_call(owner)
    survey(owner, job)
    revision = design(owner, job)
    read_the_design(owner, revision)

    link = send(owner, revision)
    customer = walker(PHONE, has_touch=True, is_mobile=True)
    read_the_quote(accept(customer, link, "Nell Pardee"))
    make_ready(owner, job)

    tech = walker(TABLET, bob, has_touch=True)
    Bay(tech, walker(TABLET, lena, has_touch=True), owner, job).work()
    assert "NOT RELEASED" in text_of(print_sheet(tech, job, "Print a draft"), slice(1))
    for part in ("technician", "licensed", "customer"):
        sign(tech, job, part)
    sign(owner, job, "owner")
    tech.open(f"{job}sign-off/", "sign-off-signed")
    read_the_sheet(print_sheet(tech, job, "Release and print"))
    find_it_again(owner, job)


def read_the_design(owner: Walker, revision: str) -> None:
    """Read the numbers back from the design's page."""
    owner.open(revision, "design")
    text = owner.text()
    for words in (
        "3,840 Wh a day, June",  # F5: 800 W × 6.4 h × 0.75
        "3,456 Wh 1.10 days",  # F4: 3 × 100 Ah × 12.8 V × 0.9
        "72 and 1 for cable",  # 16 feet × 4 + 8 gland screws
        "126 lb net added",  # 46 + 9 + 38.1 + 9 + 14 − 59 = 57.1 kg
        "2S2P 800 W 56.1 V module coefficient",  # F9: 2 × 24.3 × (1 + 0.0028 × 55)
        "34.2 V working",  # F10: 2 × 20.4 × (1 − 0.0036 × 45)
        "not needed back-feed 12.8 A",  # F14: 1.25 × 10.2 = 12.75 A under the fuse limit of 20 A
        "53.1 A no clipping",  # F12: 0.85 × 800 / 12.8
        # NFPA 70 ch. 9 table 8; PV wire is taken at 90 °C: 33 CFR 183.425 table 5 gives 55 A, × 0.7
        "23.6 ft 10 AWG 35 A at the combiner 31.9 A 38.5 A 2.27%",
        "3.9 ft 2/0 AWG 250 A at the bus",  # ABYC E-11: 2/0 carries 330 A
        "95.0 A limit 150.0 A",  # 50 A of sun and 45 A of shore; 0.5 C of 300 Ah
    ):
        assert words in text, words
    # F1: 1 771 / 0.97 + 980 / 0.88 + 8 h × 25 W, the usual rows of the audit within 10 Wh of 3 144
    assert abs(number(r"Total at the battery ([\d,]+) Wh", text) - 3144) <= 10
    # F24: 308 N (69 lbf of 4.448 N) on a foot whose four screws hold 466 N (105 lbf) in 9.5 mm plywood
    assert abs(number(r"([\d,]+) lbf on a foot", text) * 4.448 - 308) <= 5
    assert "Most loaded foot 66% of what it holds, at most 50% Caution" in text
    read_what_opens(owner)


def read_what_opens(owner: Walker) -> None:
    """Open numbers of the most loaded foot and of the inverter's cable to what they are made of."""
    foot = owner.page.locator("details", has_text="Numbers and source: Wind on the most loaded foot")
    foot.locator("summary").click()
    expect(foot).to_contain_text("0.66 of what it holds (limit 0.50 of what it holds)")  # 308 N of 466 N
    owner.page.locator("summary", has_text="C6 bus to inverter").click()
    for title, *numbers in (
        (
            "C6 bus–inverter: fuse or breaker carries the current",
            "197.6",
            "247.04 A",
            "250.0 A",
        ),  # 2000 / (0.88 × 11.5)
        ("C6 bus–inverter: voltage drop", "0.121 V", "1.01%"),  # 2 × 1.2 m × 197.6 A × 0.2557 mΩ/m of 12 V
    ):
        check = owner.page.locator("details.check", has_text=title).last
        check.locator("summary").click()
        for words in numbers:
            expect(check).to_contain_text(words)


def read_the_quote(text: str) -> None:
    """Read what the customer reads."""
    for words in ("73 72 screws, 1 for cable", "Planned work: 28.2 hours", "1.1 days", "126 lb"):
        assert words in text, words
    assert "margin" not in text.lower()


def make_ready(owner: Walker, job: str) -> None:
    """Take the deposit, order the parts, book the bay."""
    owner.open(job, "job-accepted")
    owner.press("Enter the money")
    owner.look("job-money")
    owner.page.locator("summary", has_text="Enter a payment").click()
    owner.look("job-money-payment")  # the deposit asked for stands in the form
    owner.press("Enter it")
    for state in ("parts_ordered", "ready"):
        owner.open(job)
        owner.fill({"to": state})
        owner.press("Move")


def read_the_sheet(pdf: bytes) -> None:
    """Read the released sheet: as built, not as planned."""
    assert is_archival(pdf)
    text = text_of(pdf)
    assert "not released" not in text.lower()
    for words in (
        f"VIN or serial {typed.VIN}",
        "All 72 72 72 Cable holes 1, sealed 1.",
        "34.1 ft 10 AWG 35 A",  # the home run as built: 10.4 m
        "Voc 45.1 V",
        "Isc 8.46 A",
        "45.0 V",
        "8.45 A",
        "cold 56.1 V, hot 34.2 V",
        "Net weight added 126 lb",
        "Ceiling seen with the owner",
        REASON,
        "Nell and Gus Pardee",
    ):
        assert words in text, words


def find_it_again(owner: Walker, job: str) -> None:
    """Find the finished job on the board, by plate and VIN, and in the history of the vehicle."""
    owner.open("/", "board-full")
    expect(owner.page.get_by_role("link", name=re.compile("Solar and lithium")).first).to_be_visible()
    for words in (typed.PLATE.lower(), typed.VIN[-6:], "pardee"):
        owner.open(f"/search/?q={words}", "search")
        expect(owner.page.locator("main")).to_contain_text("Junipergate 27 trailer")
    owner.press(re.compile("Junipergate 27 trailer"))
    owner.look("vehicle")
    expect(owner.page.locator("main")).to_contain_text("Job sheet")
    for tab in ("papers/", "log/"):
        owner.open(job + tab, tab.strip("/"))


def number(pattern: str, text: str) -> float:
    """Return the number a pattern finds in the text."""
    found = re.search(pattern, text)
    assert found is not None, f"{pattern} not in: {text[:3000]}"
    return float(found[1].replace(",", ""))
