"""Knows how one person walks through pages: types, presses, and watches for what must never be seen.

Every page that is looked at is checked for breaches of its content policy; every page of a new kind also by
axe and for sideways scroll at 320 px. What the browser writes to its console as an error counts everywhere.
With ``SCREENSHOTS=folder`` each kind of page is photographed at desk and tablet size.
"""

from __future__ import annotations

import os
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from playwright.sync_api import Locator, Page

from tests.browser.barriers import DESK, NARROW, TABLET, barriers, breaches, is_too_wide

PICTURES = os.environ.get("SCREENSHOTS")
# A form that refuses answers 422, which Chromium reports as a failed resource; the refusal is what is tested.
_REFUSAL = "status of 422"


@dataclass
class Walker:
    """One person at one page; ``faults`` and ``kinds`` are shared by everybody on the walk."""

    page: Page
    site: str
    faults: list[str] = field(default_factory=list)
    kinds: set[str] = field(default_factory=set)

    def __post_init__(self) -> None:
        """Listen to the console; answer every question of the browser with yes."""
        self.page.on("console", self._on_console)
        self.page.on("pageerror", lambda error: self.faults.append(f"{self.page.url}: {error}"))
        self.page.on("dialog", lambda dialog: dialog.accept())

    def _on_console(self, message: Any) -> None:
        if message.type == "error" and _REFUSAL not in message.text:
            self.faults.append(f"{self.page.url}: {message.text}")

    def open(self, path: str, kind: str = "") -> None:
        """Go to an address by hand."""
        answer = self.page.goto(self.site + path, wait_until="domcontentloaded")
        assert answer is not None
        assert answer.ok, f"{path}: {answer.status}"
        if kind:
            self.look(kind)

    def look(self, kind: str) -> None:
        """Check the page that is shown: policy always; axe, 320 px and pictures once per kind."""
        page = self.page
        self.faults += [f"{page.url}: {breach}" for breach in breaches(page)]
        if kind in self.kinds:
            return
        self.kinds.add(kind)
        size = page.viewport_size
        assert size is not None
        self._picture(kind)
        self.faults += [f"{kind} ({page.url}): {barrier}" for barrier in barriers(page)]
        page.set_viewport_size({"width": NARROW[0], "height": NARROW[1]})
        if is_too_wide(page):
            self.faults.append(f"{kind} ({page.url}) scrolls sideways at 320 px")
        page.set_viewport_size(size)

    def _picture(self, kind: str) -> None:
        if PICTURES is None:
            return
        size = self.page.viewport_size
        assert size is not None
        shots = {"desk": DESK, "tablet": TABLET} if size["width"] > 500 else {"phone": tuple(size.values())}
        for word, (width, height) in shots.items():
            self.page.set_viewport_size({"width": width, "height": height})
            path = Path(PICTURES) / f"{len(self.kinds):02d}-{kind}-{word}.png"
            self.page.screenshot(path=path, full_page=True)
        self.page.set_viewport_size(size)

    def fill(self, values: dict[str, Any], within: Locator | None = None, *, ends: str = "=") -> None:
        """Put values into fields by name: text, choice, tick (True, False), ticks (a list), {"label": …}."""
        scope = within or self.page.locator("main")
        choices = scope.locator("select").evaluate_all("(all) => all.map((one) => one.name)")
        for name, value in values.items():
            is_choice = any(one.endswith(name) if ends == "$=" else one == name for one in choices)
            self._put(scope.locator(f'[name{ends}"{name}"]'), value, is_choice=is_choice)

    @staticmethod
    def _put(found: Locator, value: Any, *, is_choice: bool) -> None:
        if isinstance(value, list):
            for one in value:
                found.and_(found.page.locator(f'[value="{one}"]')).check()
        elif isinstance(value, bool):
            found.set_checked(value)
        elif isinstance(value, dict):
            found.select_option(**value)
        elif is_choice:
            found.select_option(value)
        else:
            found.fill(str(value))

    def press(self, name: str | re.Pattern[str], within: Locator | None = None) -> None:
        """Press the button or link of that name and wait for the page it leads to."""
        scope = within or self.page.locator("main")
        found = scope.get_by_role("button", name=name, exact=True).or_(
            scope.get_by_role("link", name=name, exact=True)
        )
        with self.arriving():
            found.first.click()

    def arriving(self) -> Any:
        """Return a context in which the next page arrives and its scripts run (all are deferred modules)."""
        return self.page.expect_navigation(wait_until="domcontentloaded")

    def text(self, within: str = "main") -> str:
        """Return what can be read, spaces and line breaks made even."""
        return even(self.page.locator(within).inner_text())


def even(text: str) -> str:
    """Return the text with every run of spaces (no-break ones too) as one space."""
    return re.sub(r"\s+", " ", text)


def sign_in(walker: Walker, email: str, password: str) -> None:
    """Sign in as a person would."""
    walker.open("/account/login/", "sign-in")
    walker.fill({"login": email, "password": password})
    walker.press("Sign in")
