"""Knows what a page must never have: a barrier against WCAG 2.2 A or AA that axe finds, a sideways scroll, a
breach of the content policy.
"""

from __future__ import annotations

import json
import os
from typing import Any

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

# Of what passes only the first place is told: that is proof enough that axe looked, and quicker.
WCAG = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"],
    "resultTypes": ["violations"],
}
CONTRAST = "color-contrast"
AXE_WHOLE = bool(os.environ.get("AXE_WHOLE"))  # the long form, by hand: contrast at every place of every page
#: Looks judged on any page of this process: nothing else decides about contrast.
SEEN: set[str] = set()
DESK, TABLET, PHONE, NARROW = (1280, 800), (820, 1180), (390, 844), (320, 700)
# All that the contrast of a text is judged by: its color, whether it is large, and what lies behind it.
_LOOKS = """(known) => {
  const behind = new Map();
  const ground = (one) => {
    if (!one) return "";
    if (!behind.has(one)) {
      const own = getComputedStyle(one);
      const fill = /, 0\\)$|^transparent$/.test(own.backgroundColor) ? "" : own.backgroundColor;
      const more = own.backgroundImage === "none" ? "" : own.backgroundImage;
      const faint = own.opacity === "1" && own.filter === "none" ? "" : own.opacity + own.filter;
      const place = own.position === "static" ? "" : own.position;
      behind.set(one, `${ground(one.parentElement)} ${place}${fill}${more}${faint}`);
    }
    return behind.get(one);
  };
  const look = (one) => {
    const own = getComputedStyle(one);
    const size = parseFloat(own.fontSize);
    const isLarge = size >= 24 || (size >= 18.66 && Number(own.fontWeight) >= 700);
    return [own.color, isLarge, own.textShadow, ground(one)].join();
  };
  const texts = new Set(document.body.querySelectorAll("input, select, textarea"));
  const words = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (words.nextNode()) if (words.currentNode.data.trim()) texts.add(words.currentNode.parentElement);
  const places = Object.create(null);
  for (const one of texts) {
    if (!one.checkVisibility()) continue;
    const own = look(one);
    places[own] = (places[own] ?? 0) + 1;
    one.toggleAttribute("data-new-look", !known.includes(own) && places[own] <= 2);
  }
  return Object.keys(places);
}"""
# Marked and begun in one go: a page that draws itself anew between the two carries no marks. What is
# marked may be but a disabled box, which axe leaves out.
_CONTRAST = f"""async ([known, only]) => {{
  const looks = ({_LOOKS})(known);
  const isNew = document.querySelector("[data-new-look]") !== null;
  const {{ violations }} = isNew ? await axe.run("[data-new-look]", only) : {{ violations: [] }};
  return {{ looks, violations }};
}}"""


def every_barrier(page: Page) -> list[str]:
    """Return what axe finds on the whole page."""
    return _found(page, WCAG)


def barriers(page: Page, seen: set[str] = SEEN) -> list[str]:
    """Return what axe finds, contrast only at two places of each look not ``seen``; add what was seen now.

    Contrast takes most of axe's time, and more than twice that on a page of twice the length.
    """
    if AXE_WHOLE:
        return every_barrier(page)
    found = _found(page, {**WCAG, "rules": {CONTRAST: {"enabled": False}}})
    only = {**WCAG, "runOnly": {"type": "rule", "values": [CONTRAST]}}
    looked = page.evaluate(_CONTRAST, [list(seen), only])
    seen.update(looked["looks"])
    return found + _told(looked["violations"])


def _found(page: Page, options: dict[str, Any]) -> list[str]:
    """Return what axe finds; where nothing passes, axe has not looked."""
    response = Axe().run(page, None, options).response
    assert response["passes"], "axe looked at nothing"
    return _told(response["violations"])


def _told(violations: list[dict[str, Any]]) -> list[str]:
    return [f"{one['id']}: {node['html'][:120]}" for one in violations for node in one["nodes"]]


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
    found: list[str] = []
    for width, height in (DESK, TABLET, PHONE, NARROW):
        page.set_viewport_size({"width": width, "height": height})
        found += [f"scrolls sideways at {width}"] if is_too_wide(page) else []
        if (width, height) in {DESK, NARROW}:
            found += [f"{width}: {barrier}" for barrier in barriers(page)]
    return found + breaches(page)
