"""Quotes in a real browser: sums follow the hand, the customer signs on a phone, no barrier axe finds."""

from __future__ import annotations

from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from jobs.models import Quote
from jobs.quote.change_order import ChangeFacts, change_order_create, change_order_send
from tests.browser.barriers import PHONE, barriers, faults

pytestmark = pytest.mark.django_db(transaction=True)


def test_the_pages_hold_no_barrier(page: Page, site: str, sign_in: Any, alice: Any, draft_quote: Quote):
    sign_in(alice)
    pk, job = draft_quote.pk, draft_quote.job_id
    paths = [
        f"/jobs/{job}/quotes/", f"/designs/{draft_quote.design_id}/quote/", f"/quotes/{pk}/",
        f"/quotes/{pk}/edit/", f"/quotes/{pk}/send/", f"/quotes/{pk}/preview/",
    ]  # fmt: skip
    assert not [fault for path in paths for fault in faults(page, site + path)]


def test_the_customers_pages_hold_no_barrier(page: Page, site: str, sent_quote: Quote):
    paths = [f"/q/{sent_quote.token}/"]
    assert not [fault for path in paths for fault in faults(page, site + path)]
    page.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})  # what most of them hold
    assert not barriers(page)
    page.goto(f"{site}/q/nothing/")
    assert not barriers(page)


def test_the_change_pages_hold_no_barrier(
    page: Page, site: str, sign_in: Any, alice: Any, accepted_quote: Quote
):
    facts = ChangeFacts("Soft roof", "Bob Test", ("D",), schedule_days=1)
    at = timezone.now()
    order = change_order_create(job=accepted_quote.job, facts=facts, lines=[], actor=alice, at=at)
    _, token = change_order_send(order=order, actor=alice, at=at)
    sign_in(alice)
    paths = [
        f"/jobs/{accepted_quote.job_id}/changes/new/", f"/changes/{order.pk}/", f"/changes/{order.pk}/edit/",
        f"/changes/{order.pk}/sign/", f"/c/{token}/", f"/jobs/{accepted_quote.job_id}/quotes/",
    ]  # fmt: skip
    assert not [fault for path in paths for fault in faults(page, site + path)]


def test_sums_follow_what_is_typed(page: Page, site: str, sign_in: Any, alice: Any, draft_quote: Quote):
    sign_in(alice)
    page.goto(f"{site}/quotes/{draft_quote.pk}/edit/")
    page.locator("[name=labour-0-quantity]").fill("3")
    hoped = f"${draft_quote.total + 270:,.2f}"  # two hours more at 135
    expect(page.locator("#totals [data-total]")).to_have_text(hoped)
    expect(page.locator("#desk-total")).to_have_text(f"Total {hoped}")
    page.locator("[name=labour-0-quantity]").fill("x")
    expect(page.locator("#totals")).to_contain_text("is not a number")
    page.locator("[name=labour-0-quantity]").fill("3")
    page.get_by_role("button", name="Save the quote").click()
    expect(page.locator("[data-total]").first).to_have_text(hoped)


def test_a_row_is_added_and_filled_by_its_stock_code(
    page: Page, site: str, sign_in: Any, alice: Any, draft_quote: Quote
):
    sign_in(alice)
    page.goto(f"{site}/quotes/{draft_quote.pk}/edit/")
    page.get_by_role("button", name="Add a part").click()
    page.locator("tbody [name^=parts-][name$=-sku]").last.fill("SOFT")
    page.get_by_role("button", name="Save the quote").click()
    expect(page.get_by_text("Soft starter for air conditioner")).to_be_visible()


def test_the_customer_signs_with_a_finger_on_a_phone(page: Page, site: str, sent_quote: Quote):
    page.set_viewport_size({"width": 390, "height": 800})
    page.goto(f"{site}/q/{sent_quote.token}/")
    page.get_by_label("Your full name").first.fill("Nell Pardee")
    canvas = page.locator(".signature canvas")
    canvas.scroll_into_view_if_needed()
    page.wait_for_function(
        "() => { const y = scrollY; window.was ??= []; was.push(y); return was.at(-2) === y; }"
    )
    box = canvas.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 30, box["y"] + 80)
    page.mouse.down()
    page.mouse.move(box["x"] + 150, box["y"] + 110, steps=8)
    page.mouse.up()
    page.get_by_role("button", name="I accept this quote").click()
    expect(page.get_by_role("status")).to_contain_text("Accepted by Nell Pardee")
    stored = Quote.objects.get(pk=sent_quote.pk)
    assert stored.is_accepted
    assert "<path" in stored.signature_svg


def test_the_customer_accepts_by_keyboard_alone(page: Page, site: str, sent_quote: Quote):
    page.goto(f"{site}/q/{sent_quote.token}/")
    page.get_by_label("Your full name").first.focus()
    page.keyboard.type("Gus Pardee")
    page.keyboard.press("Tab")
    expect(page.get_by_label("My typed name is my signature")).to_be_focused()
    page.keyboard.press("Space")
    for _ in range(4):
        page.keyboard.press("Tab")
        if page.evaluate("() => document.activeElement.textContent.includes('I accept')"):
            break
    page.keyboard.press("Enter")
    expect(page.get_by_role("status")).to_contain_text("Accepted by Gus Pardee")
