"""Sets a shop up on a clean Debian by README's lines alone, and sells a job there to a customer on a phone.

Run by hand, as root, where mmdebstrap is installed and ports 80 and 443 are free::

    uv run --group dev python -m tests.soak.clean_machine

What differs from README: the name (``solar.localhost``, so that Caddy signs with an authority of its own),
the checkout (a bundle of this one), the mail server (a real one, of this script), and systemctl: a root in a
folder has no init, so a script reads user, environment and command out of the unit files and starts them.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

from aiosmtpd.controller import Controller
from aiosmtpd.handlers import Sink
from playwright.sync_api import Browser, Page, expect, sync_playwright

from tests.browser.walk_office import design, survey, take_the_call
from tests.browser.walk_pages import DESK, Walker, sign_in
from tests.browser.walk_quote import accept, send

TOP: Final = Path(__file__).resolve().parents[2]
HOST: Final = "solar.localhost"
SITE: Final = f"https://{HOST}"
MAIL_PORT: Final = 2525
PHONE: Final = {"width": 390, "height": 844}
WAIT_S: Final = 900
OWNER: Final = ("wren@tallgrass.example", "seven-screws-in-a-row")
#: Settings of this machine's way to the package indexes that a clean root needs as well.
_PASSED: Final = ("http_proxy", "https_proxy", "no_proxy", "PIP_INDEX_URL", "UV_DEFAULT_INDEX")
_CA_NAMES: Final = ("SSL_CERT_FILE", "PIP_CERT", "REQUESTS_CA_BUNDLE", "GIT_SSL_CAINFO")
_CA_FILE: Final = "/etc/machine-ca.pem"
SYSTEMCTL: Final = """\
#!/bin/sh
[ "$1" = enable ] || exit 0
for unit; do
    file=/etc/systemd/system/$unit.service
    [ -f "$file" ] || continue
    get() { sed -n "s/^$1=//p" "$file"; }
    (cd "$(get WorkingDirectory)" && exec env -i PATH=/usr/bin:/bin $(get Environment) \\
        setpriv --reuid "$(get User)" --regid "$(get User)" --init-groups $(get ExecStart)) \\
        >"/var/log/$unit.log" 2>&1 &
done
"""


def readme_lines() -> list[str]:
    """Return the lines of README's "Run it for your shop", with the name and the checkout of this trial."""
    section = (TOP / "README.md").read_text().split("## Run it for your shop")[1]
    found = re.search(r"```sh\n(.*?)```", section, re.DOTALL)
    assert found is not None, "README has no block under “Run it for your shop”"
    lines = [line.partition("   #")[0].rstrip() for line in found[1].splitlines()]
    assert len(lines) <= 10, "README promises ten lines"
    return [
        line.replace("solar.myshop.example", HOST).replace("CHECKOUT", "/checkout.bundle") for line in lines
    ]


def root_made(root: Path) -> None:
    """Make a clean Debian in a folder: what every Debian has, and systemd's check of unit files."""
    packages = "systemd,util-linux,passwd"
    run = ["mmdebstrap", "--variant=minbase", f"--include={packages}", "trixie", str(root)]
    subprocess.run(run, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    subprocess.run(
        ["git", "-C", str(TOP), "bundle", "create", str(root / "checkout.bundle"), "HEAD"], check=True
    )
    shutil.copy("/etc/resolv.conf", root / "etc/resolv.conf")
    authorities = os.environ.get("SSL_CERT_FILE")
    if authorities:
        shutil.copy(authorities, root / _CA_FILE.lstrip("/"))
    systemctl = root / "usr/local/bin/systemctl"
    systemctl.write_text(SYSTEMCTL)
    systemctl.chmod(0o755)


def script() -> str:
    """Return what runs inside: README's lines, mail set where README says, then a long sleep."""
    mail = (
        f"MAIL_HOST=127.0.0.1\\nMAIL_PORT={MAIL_PORT}\\nMAIL_TLS=none\\nMAIL_FROM=desk@tallgrass.example\\n"
    )
    steps = ["set -e", "export DEBIAN_FRONTEND=noninteractive"]
    for line in readme_lines():
        if "systemctl enable" in line:
            steps.append(f"printf '{mail}' >> /var/lib/coachlight/settings.env")
            steps.append("systemd-analyze verify /etc/systemd/system/coachlight-*.service || true")
        steps += [f"echo '$ {line}'", line]
    return "\n".join([*steps, "echo 'ALL LINES DONE'", "exec sleep infinity"])


def environment() -> dict[str, str]:
    """Return the environment of a login on a clean machine."""
    made = {"PATH": "/usr/local/bin:/usr/local/sbin:/usr/bin:/usr/sbin:/bin:/sbin", "HOME": "/root"}
    made |= {name: os.environ[name] for name in _PASSED if name in os.environ}
    if "SSL_CERT_FILE" in os.environ:
        made |= dict.fromkeys(_CA_NAMES, _CA_FILE)
    return made


@contextmanager
def machine(root: Path) -> Iterator[str]:
    """Run README's lines in the root and give the code they printed; stop all of it at the end."""
    inside = 'mount --rbind /dev "$0/dev" && exec chroot "$0" sh -c "$1"'
    command = ["unshare", "--mount", "--pid", "--fork", "--kill-child", f"--mount-proc={root}/proc"]
    process = subprocess.Popen(
        [*command, "sh", "-c", inside, str(root), script()],
        env=environment(), stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
    )  # fmt: skip
    try:
        yield _code_of(process)
    finally:
        process.kill()
        process.wait()


def _code_of(process: subprocess.Popen[str]) -> str:
    """Return the code for the first page once every line of README ran; print what they print."""
    code, began = "", time.monotonic()
    assert process.stdout is not None
    for line in process.stdout:
        print(f"  {time.monotonic() - began:5.0f} s  {line}", end="", flush=True)
        found = re.search(r"with code (\w+)", line)
        code = found[1] if found else code
        if "ALL LINES DONE" in line:
            assert code, "no code was printed"
            return code
        assert time.monotonic() - began < WAIT_S, "the lines take too long"
    raise AssertionError("a line of README failed")


def until(what: str, is_so: Any, seconds: float = 90) -> None:
    """Wait until something is so."""
    end = time.monotonic() + seconds
    while not is_so():
        assert time.monotonic() < end, f"not in time: {what}"
        time.sleep(1)
    print(f"  ok: {what}", flush=True)


def is_served(page: Page) -> bool:
    """Return whether the site answers over TLS."""
    try:
        answer = page.goto(f"{SITE}/readyz")
    except Exception:
        return False
    return answer is not None and answer.ok


def first_page(walker: Walker, code: str) -> None:
    """Set up the shop on the first page, as the owner would, with the invented catalog."""
    walker.open("/first-run/", "first-run")
    walker.fill(
        {
            "code": code, "name": "Tallgrass Roof Solar", "units": "imperial", "paper": "letter",
            "currency": "USD", "time_zone": "America/Denver", "rule_set": "marine_105c",
            "first_name": "Wren", "last_name": "Halloran", "email": OWNER[0], "password": OWNER[1],
            "with_catalog": True,
        }
    )  # fmt: skip
    walker.press("Set up the shop")
    sign_in(walker, *OWNER)


def sell(browser: Browser, owner: Walker) -> None:
    """Take a call, survey, design, send the quote; a customer accepts it on a phone."""
    job = take_the_call(owner)
    survey(owner, job)
    link = send(owner, design(owner, job))
    assert link.startswith(SITE), link
    context = browser.new_context(viewport=PHONE, has_touch=True, is_mobile=True, ignore_https_errors=True)
    customer = Walker(context.new_page(), SITE, owner.faults, owner.kinds)
    accept(customer, link, "Nell Pardee")
    owner.open(job)
    expect(owner.page.locator("main")).to_contain_text("Accepted")


class Letters(Sink):
    """A mail server that keeps what it was sent."""

    def __init__(self) -> None:
        super().__init__()
        self.kept: list[str] = []

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:
        """Keep a letter."""
        self.kept.append(envelope.content.decode("utf-8", "replace"))
        return "250 OK"


def backup_written(root: Path) -> bool:
    """Return whether the worker wrote a backup that can be read."""
    found = sorted((root / "var/lib/coachlight/backups").glob("*.zip"))
    return bool(found) and zipfile.ZipFile(found[-1]).testzip() is None


def walk(root: Path, code: str, letters: Letters) -> None:
    """Use the installation as its owner and a customer do, then look at letter, worker and backup."""
    with sync_playwright() as kit:
        path = shutil.which("chromium-headless-shell") or shutil.which("chromium")
        browser = kit.chromium.launch(executable_path=path, args=["--no-sandbox"])
        context = browser.new_context(
            viewport={"width": DESK[0], "height": DESK[1]}, ignore_https_errors=True
        )
        context.set_default_timeout(60_000)
        page = context.new_page()
        until("the site is ready over TLS, worker and all", lambda: is_served(page))
        owner = Walker(page, SITE)
        first_page(owner, code)
        sell(browser, owner)
        until("the customer's letter arrived", lambda: any("/q/" in text for text in letters.kept))
        until("the worker wrote a backup", lambda: backup_written(root))
        browser.close()
    assert not owner.faults, "\n".join(owner.faults)


def main() -> None:
    """Make the root, set the shop up, sell a job; leave nothing behind."""
    letters = Letters()
    server = Controller(letters, hostname="127.0.0.1", port=MAIL_PORT)
    server.start()
    folder = Path(tempfile.mkdtemp(prefix="clean-machine-"))
    try:
        root_made(folder / "root")
        with machine(folder / "root") as code:
            walk(folder / "root", code, letters)
    except BaseException:
        for log in (folder / "root/var/log").glob("coachlight-*.log"):
            print(f"== {log.name}\n{log.read_text()[-4000:]}", file=sys.stderr)
        raise
    finally:
        server.stop()
        shutil.rmtree(folder, ignore_errors=True)
    print("A shop runs on a clean machine, and its first quote is accepted.")


if __name__ == "__main__":
    main()
