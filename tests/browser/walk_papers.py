"""Knows the end of the walk: the draft sheet, the signatures, the released sheet and what its PDF says."""

from __future__ import annotations

import io

import pikepdf
from django.utils import timezone
from playwright.sync_api import expect

from checklists.models import JobSheet
from checklists.sheet.print import sheet_print
from tests.browser.turns import ONE_AT_A_TIME
from tests.browser.walk_pages import Walker, even
from tests.browser.walk_quote import draw
from tests.papers import pages_of


def print_sheet(walker: Walker, job: str, button: str) -> bytes:
    """Print the job sheet from the sign-off page and return the PDF that is kept."""
    walker.open(f"{job}sign-off/")
    with walker.arriving():
        walker.page.get_by_role("button", name=button).click()
    walker.look("sheet-waiting")
    expect(walker.page.locator("main")).to_contain_text("Waiting for its turn")
    path = walker.page.url.removeprefix(walker.site)
    sheet = JobSheet.objects.filter(pk=int(path.rstrip("/").rpartition("/")[2]))
    walker.page.goto("about:blank")  # nothing asks while the tests' one connection is busy
    with ONE_AT_A_TIME:  # no worker runs beside the tests
        sheet_print(sheet.get().pk, clock=timezone.now)
        sheet.update(state=JobSheet.State.PRINTING)
    walker.open(path, "sheet-printing")
    expect(walker.page.locator("main")).to_contain_text("Being printed")
    with ONE_AT_A_TIME:
        sheet.update(state=JobSheet.State.READY)
    link = walker.page.get_by_role("link", name="Open the PDF")
    link.wait_for()  # the page asks again by itself
    walker.look("sheet-printed")
    return pdf_at(walker, link.get_attribute("href") or "")


def pdf_at(walker: Walker, path: str) -> bytes:
    """Return the PDF behind a link, fetched with the walker's own sign-in."""
    answer = walker.page.request.get(walker.site + path)
    assert answer.ok
    assert answer.headers["content-type"] == "application/pdf"
    return answer.body()


def text_of(pdf: bytes, pages: slice = slice(None)) -> str:
    """Return everything the pages of a PDF say, or some of them."""
    return even(" ".join(pages_of(pdf)[pages]))


def is_archival(pdf: bytes) -> bool:
    """Return whether the metadata claims PDF/A-3a (ISO 19005-3) and the pages are tagged as that asks."""
    with pikepdf.open(io.BytesIO(pdf)) as document:
        meta = document.open_metadata()
        claims = (meta.get("pdfaid:part"), meta.get("pdfaid:conformance"))
        return claims == ("3", "A") and bool(document.Root.MarkInfo.Marked) and "/Lang" in document.Root


def sign(walker: Walker, job: str, part: str, name: str = "") -> None:
    """Sign one place of the sheet with a drawing; the name stands there already unless another is given."""
    walker.open(f"{job}sign-off/")
    form = walker.page.locator(f'form:has(input[name="part"][value="{part}"])')
    if name:
        form.locator('[name="printed_name"]').fill(name)
    places = [one.get_attribute("data-signature-for") for one in walker.page.locator(".signature").all()]
    draw(walker.page, places.index(f"id_{part}_signature_svg"))
    with walker.arriving():
        form.get_by_role("button", name="Sign as").click()
    expect(walker.page.locator(f"section[aria-labelledby=sign-{part}]")).to_contain_text("Signed by")
