"""Knows what a page must never have: a barrier against WCAG 2.2 A or AA that axe finds, a sideways scroll, a
breach of the content policy.
"""

from __future__ import annotations

import json

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

# Of what passes only the first place is told: that is proof enough that axe looked, and quicker.
WCAG = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"],
    "resultTypes": ["violations"],
}
DESK, TABLET, PHONE, NARROW = (1280, 800), (820, 1180), (390, 844), (320, 700)


def barriers(page: Page) -> list[str]:
    """Return what axe finds."""
    response = Axe().run(page, options=WCAG).response
    assert response["passes"], "axe looked at nothing"
    return [f"{one['id']}: {node['html'][:120]}" for one in response["violations"] for node in one["nodes"]]


def is_too_wide(page: Page) -> bool:
    """Return whether the page scrolls sideways."""
    return page.evaluate("() => document.documentElement.scrollWidth > document.documentElement.clientWidth")


def breaches(page: Page) -> list[str]:
    """Return what the content policy stopped."""
    return json.loads(page.evaluate("() => document.documentElement.dataset.cspViolations || '[]'"))


def faults(page: Page, url: str) -> list[str]:
    """Return what is wrong with the page at an address, at every width."""
    page.set_viewport_size({"width": DESK[0], "height": DESK[1]})
    answer = page.goto(url)
    assert answer is not None
    assert answer.status == 200, url
    return [f"{url} {fault}" for fault in faults_shown(page)]


def faults_shown(page: Page) -> list[str]:
    """Return what is wrong with the page that is shown; axe looks at the widest and the narrowest."""
    found = []
    for width, height in (DESK, TABLET, PHONE, NARROW):
        page.set_viewport_size({"width": width, "height": height})
        found += [f"scrolls sideways at {width}"] if is_too_wide(page) else []
        if (width, height) in {DESK, NARROW}:
            found += [f"{width}: {barrier}" for barrier in barriers(page)]
    return found + breaches(page)
