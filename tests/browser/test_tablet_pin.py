"""A tablet unlocked by PIN: locked on reload and after a while, shared by colleagues, offline too."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse

from checklists.models import DevicePin
from tests.browser.conftest import browser_days
from tests.browser.test_tablet_shell import ONE_AT_A_TIME, Shell, sent
from tests.unit.checklists.conftest import media  # noqa: F401
from tests.unit.checklists.walk import read_lines

pytestmark = pytest.mark.django_db(transaction=True)

PIN, OTHER = "4815", "1623"


@pytest.fixture
def shell(page: Any, site: str, sign_in: Any, bob: Any, lines_read: Any) -> Shell:
    sign_in(bob)
    made = Shell(page, site, lines_read)
    made.take()
    return made


def set_pin(page: Any, pin: str) -> None:
    page.evaluate("() => { location.hash = '#/'; }")
    page.get_by_role("button", name="Set a PIN").click()
    page.get_by_label("New PIN").fill(pin)
    page.get_by_label("The same again").fill(pin)
    page.get_by_role("button", name="Set PIN", exact=True).click()
    page.get_by_role("button", name="Change PIN").wait_for()


def tick(shell: Shell) -> None:
    """Tick the next line of what is tried before the work."""
    shell.step("works_before")
    done = shell.page.locator(".line-on").count()
    shell.page.locator("button.line:enabled").first.click()
    shell.page.locator(".line-on").nth(done).wait_for()


def enter(page: Any, pin: str) -> None:
    lock = page.locator(".pin-lock")
    for digit in pin:
        lock.get_by_role("button", name=digit, exact=True).click()
    lock.get_by_role("button", name="Unlock").click()


def test_reload_asks_for_the_pin_and_offline_work_is_kept(shell):
    page = shell.page
    set_pin(page, PIN)
    page.evaluate("() => navigator.serviceWorker.ready.then(() => true)")
    page.context.set_offline(True)
    tick(shell)
    page.reload()
    page.locator(".pin-lock").wait_for()
    enter(page, "9999")
    page.get_by_text("4 tries are left").wait_for()
    enter(page, PIN)
    page.locator(".pin-lock").wait_for(state="detached")
    shell.state("1 not sent")
    page.context.set_offline(False)
    shell.state("All sent")
    with ONE_AT_A_TIME:
        assert sent().get().by_name == "Bob Test"
    assert not shell.faults


def test_left_alone_it_locks_and_the_shops_pages_with_it(shell, site):
    page = shell.page
    set_pin(page, PIN)
    page.evaluate("() => { document.body.dataset.lockAfterMin = '0'; }")
    with page.expect_response("**/hello/*locked=1*", timeout=15_000):
        page.locator(".pin-lock").wait_for(timeout=15_000)
    other = page.context.new_page()
    other.goto(site + reverse("jobs:job_board"))
    other.locator(".pin-lock").wait_for()
    assert "/tablet/" in other.url
    enter(other, PIN)
    other.locator(".pin-lock").wait_for(state="detached")
    other.get_by_text("All sent").or_(other.get_by_text("Nothing to send")).first.wait_for()
    other.wait_for_timeout(500)
    other.goto(site + reverse("jobs:job_board"))
    assert other.locator(".pin-lock").count() == 0
    assert "/tablet/" not in other.url


@pytest.fixture
def lena_reads(lines_read: Any, lena: Any, now: Any) -> None:
    """Let Lena, too, have read the safety lines."""
    read_lines(lines_read, lena, now, browser_days())


@pytest.mark.usefixtures("lena_reads")
def test_two_people_share_it_and_each_records_as_themselves(shell, sign_in, lena, site):
    page = shell.page
    set_pin(page, PIN)
    sign_in(lena)
    page.goto(f"{site}/tablet/")
    page.get_by_role("heading", name="Lena Test").wait_for()  # she gave her password: no PIN is asked for
    set_pin(page, OTHER)
    page.evaluate("() => navigator.serviceWorker.ready.then(() => true)")
    page.context.set_offline(True)
    page.reload()
    page.locator(".pin-lock").get_by_role("button", name="Bob Test").click()
    enter(page, PIN)
    page.locator(".pin-lock").wait_for(state="detached")
    tick(shell)
    page.context.set_offline(False)
    shell.state("All sent")
    page.evaluate("() => { location.hash = '#/'; }")
    page.get_by_role("button", name="Lock, or change person").click()
    page.locator(".pin-lock").get_by_role("button", name="Lena Test").click()
    enter(page, OTHER)
    page.locator(".pin-lock").wait_for(state="detached")
    page.get_by_role("heading", name="Lena Test").wait_for()
    with page.expect_response(lambda one: one.request.method == "POST" and "/events/" in one.url):
        tick(shell)
    shell.state("All sent")
    with ONE_AT_A_TIME:
        names = sorted(sent().values_list("by_name", flat=True))
        assert DevicePin.objects.count() == 2
    assert names == ["Bob Test", "Lena Test"]
    assert not shell.faults


def test_five_wrong_ones_ask_for_the_password_and_nothing_is_lost(shell, bob):
    page = shell.page
    with ONE_AT_A_TIME:
        bob.set_password("lantern-on-the-ridge")
        bob.save()
    page.context.clear_cookies()
    page.reload()
    page.locator("#state", has_text="Signed out").wait_for()
    page.locator("#state").click()
    sign_in_by_password(page, bob, page.get_by_role("link", name="Sign in again", exact=True))
    shell.open()
    set_pin(page, PIN)
    page.evaluate("() => navigator.serviceWorker.ready.then(() => true)")
    page.context.set_offline(True)
    tick(shell)
    page.reload()
    for _ in range(5):
        enter(page, "9999")
        page.wait_for_function("() => document.querySelector('.pin-dots').textContent === '–'")
    page.get_by_text("Five wrong PINs").wait_for()
    page.reload()
    page.get_by_text("Five wrong PINs").wait_for()
    assert page.locator(".pin-lock").get_by_role("button", name="Unlock").is_disabled()
    page.get_by_role("button", name="sign in").click()
    page.get_by_text("Signing in needs a network").wait_for()
    page.context.set_offline(False)
    sign_in_by_password(page, bob, page.get_by_role("button", name="sign in"))
    page.locator(".pin-lock").wait_for(state="detached")
    shell.state("All sent")
    page.get_by_role("button", name="Set a PIN").wait_for()  # a new one, if he wants
    with ONE_AT_A_TIME:
        assert sent().get().by_name == "Bob Test"
    assert not shell.faults


def test_what_it_shows_is_large_enough(shell):
    page = shell.page
    page.evaluate("() => { location.hash = '#/'; }")
    page.get_by_role("button", name="Set a PIN").click()
    faults = shell.measured("new PIN") + shell.barriers("new PIN")
    page.get_by_role("button", name="Not now").click()
    set_pin(page, PIN)
    page.get_by_role("button", name="Lock, or change person").click()
    page.locator(".pin-lock").wait_for()
    assert not faults + shell.measured("locked") + shell.barriers("locked")


def sign_in_by_password(page: Any, person: Any, way: Any) -> None:
    """Sign in on the page the shop has for it, and come back to the tablet."""
    way.first.click()
    page.get_by_label("Email").fill(person.email)
    page.get_by_label("Password").fill("lantern-on-the-ridge")
    page.get_by_role("button", name="Sign in").click()
    page.locator("#page h1").wait_for()


def test_the_first_visit_says_who_is_signed_in_and_nothing_that_is_not_known(page, site, sign_in, bob):
    """While the shop is asked, and when it does not answer, nobody is said to be signed out."""
    sign_in(bob)
    page.route("**/tablet/hello/*", lambda route: route.abort(), times=1)
    held = []
    page.goto(f"{site}/tablet/")
    page.get_by_role("heading", name="not known who is signed in").wait_for()
    page.route("**/tablet/hello/*", lambda route: held.append(route))
    page.reload()
    page.get_by_role("heading", name="Asking who is signed in").wait_for()
    assert page.get_by_text("Nobody is signed in").count() == 0
    held[0].continue_()
    page.get_by_role("heading", name="Bob Test").wait_for()
    page.unroute("**/tablet/hello/*")
