"""What the looks of a text leave out of a second look of axe: nothing that shows in another way."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page

from tests.browser.barriers import NARROW, barriers, every_barrier

PAGE = """<html lang=en><title>A page</title>
<style>p { color: #333; background: #fff } @media (max-width: 400px) { %s }</style>
<main><h1>Words</h1><p>Some words</main>"""


@pytest.mark.parametrize(
    ("narrow", "is_barrier"),
    [
        ("", False),
        ("p { font-size: 14px }", False),
        ("p { color: #bbb }", True),  # 1.9 : 1 on white; WCAG 2.2 asks for 4.5 : 1
        ("main { background: #222 } p { background: none }", True),
        ("p { opacity: 0.3 }", True),
        ("p { color: #888; font-size: 12px }", True),  # 3.5 : 1
    ],
)
def test_a_text_that_turns_pale_when_narrow_is_found(page: Page, narrow: str, is_barrier: bool):
    page.set_content(PAGE % narrow)
    seen: set[str] = set()
    assert not barriers(page, seen)
    page.set_viewport_size({"width": NARROW[0], "height": NARROW[1]})
    assert bool(every_barrier(page)) is is_barrier
    assert bool(barriers(page, seen)) is is_barrier
