"""Knows the quote's walk: the owner prices and sends it, the customer reads and signs it on a telephone."""

from __future__ import annotations

from playwright.sync_api import Page, expect

from tests.browser.walk_pages import Walker


def draw(page: Page, place: int = 0) -> None:
    """Draw a signature with the pointer."""
    canvas = page.locator(".signature canvas").nth(place)
    canvas.scroll_into_view_if_needed()
    page.wait_for_function(
        "() => { const y = scrollY; window.was ??= []; was.push(y); return was.at(-2) === y; }"
    )
    box = canvas.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 30, box["y"] + 80)
    page.mouse.down()
    for across, down in ((60, 40), (90, 95), (130, 50), (170, 90)):
        page.mouse.move(box["x"] + across, box["y"] + down, steps=4)
    page.mouse.up()


def send(walker: Walker, design: str) -> str:
    """Propose the lines on a design, read them over, send the quote; return the customer's link."""
    walker.open(design)
    walker.press("Quote this revision")
    walker.look("quote-create")
    walker.press("Propose the lines")
    walker.look("quote-edit")
    walker.press("Save the quote")
    walker.look("quote-draft")
    quote = walker.page.url.removeprefix(walker.site)
    walker.press("As the customer sees it")
    walker.look("quote-preview")
    walker.open(quote)
    walker.press("Send …")
    walker.look("quote-send")
    owner_word = walker.page.locator('[name="reason"]')
    if owner_word.count():
        owner_word.fill("The customer knows the bank is smaller than wished for.")
    walker.press("Send it")
    walker.look("quote-sent")
    return walker.page.locator("#link").input_value()


def accept(walker: Walker, link: str, name: str) -> str:
    """Read the quote and accept it by name and drawn signature; return what was read."""
    walker.open(link.removeprefix(walker.site), "guest-quote")
    read = walker.text()
    walker.press("I accept this quote")  # too early: nothing is signed
    walker.look("guest-quote-refused")
    expect(walker.page.get_by_role("alert")).to_contain_text("name")
    walker.fill({"signed_name": name})
    draw(walker.page)
    walker.press("I accept this quote")
    expect(walker.page.get_by_role("status")).to_contain_text(f"Accepted by {name}")
    walker.look("guest-quote-accepted")
    return read
