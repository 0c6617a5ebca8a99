"""From the board to a quote like a past job's, ready to send, in a browser: clicks and the machine's time.

By hand, against a server with the demo: ``bench_repeat_quote.py SITE JOB_KEY [PICTURES]``, where the
job was surveyed and has no quote. A person's reading is not in it. Measured with Django's own server on two
busy cores: 5 clicks, no character typed, 2.4 s of the machine.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path
from typing import Any

from playwright.sync_api import Page, sync_playwright

BROWSER = "/usr/bin/chromium-headless-shell"
PERSON, SECRET = "maren@marrowcreek.example", "lantern-on-the-ridge"


class Hand:
    """Clicks and counts."""

    def __init__(self, page: Page, pictures: Path | None) -> None:
        """Begin with nothing clicked."""
        self.page, self.pictures, self.clicks, self.seconds = page, pictures, 0, 0.0

    def click(self, what: Any, name: str) -> None:
        """Click and wait until the next page stands."""
        begun = time.perf_counter()
        what.click()
        self.page.wait_for_load_state("load")
        self.clicks, took = self.clicks + 1, time.perf_counter() - begun
        self.seconds += took
        print(f"{self.clicks}. {name}: {took:.2f} s, {self.page.url}")
        if self.pictures:
            for width in (1280, 390):
                self.page.set_viewport_size({"width": width, "height": 900})
                self.page.screenshot(path=self.pictures / f"{self.clicks}-{width}.png", full_page=True)
            self.page.set_viewport_size({"width": 1280, "height": 900})


def main(site: str, job_pk: str, pictures: Path | None) -> None:
    """Walk the way once and print what it took."""
    with sync_playwright() as play:
        page = play.chromium.launch(executable_path=BROWSER, args=["--no-sandbox"]).new_page()
        page.goto(f"{site}/account/login/")
        page.fill("input[name=login]", PERSON)
        page.fill("input[name=password]", SECRET)
        page.press("input[name=password]", "Enter")
        page.wait_for_url(f"{site}/")
        page.goto(f"{site}/")
        hand = Hand(page, pictures)
        hand.click(page.locator(f"a[href='/jobs/{job_pk}/']").first, "the job on the board")
        hand.click(page.locator(f"a[href='/jobs/{job_pk}/designs/']").first, "its designs")
        hand.click(page.get_by_text("Begin from another job"), "begin from another job")
        hand.click(page.get_by_role("button", name="Use the design").first, "use the first one")
        hand.click(page.get_by_role("button", name="Quote it like").first, "quote it like that job")
        print(f"{hand.clicks} clicks, no character typed, {hand.seconds:.1f} s of the machine")


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], Path(sys.argv[3]) if len(sys.argv) > 3 else None)
