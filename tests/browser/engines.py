"""Knows how to drive the two engines beside Chromium: Debian's Firefox, and WebKit as it is built for GTK.

Firefox speaks Marionette over a socket, WebKit the WebDriver protocol over HTTP through its own driver; both
take the same commands. Neither needs a package of ours: a message is one line of JSON.
"""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import signal
import socket
import subprocess
import time
import urllib.error
import urllib.request
from pathlib import Path
from typing import Any, Final, Self

ELEMENT: Final = "element-6066-11e4-a52e-4f735466cecf"  # the key the protocol gives an element
START_S: Final = 60
SCRIPT_MS: Final = 60_000

FIREFOX: Final = shutil.which("firefox-esr")
WEBKIT: Final = shutil.which("WebKitWebDriver")
DISPLAY: Final = shutil.which("Xvfb")


class DriverError(RuntimeError):
    """The browser did not do what it was told; says why."""


class Engine:
    """One browser with one tab."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.processes: list[subprocess.Popen[bytes]] = []

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.quit()

    def start(self) -> None:
        raise NotImplementedError

    def command(self, name: str, params: dict[str, Any]) -> Any:
        raise NotImplementedError

    def spawn(self, *command: str, **env: str) -> subprocess.Popen[bytes]:
        """Start a process in a group of its own, its words in a file."""
        home = {
            "HOME": str(self.folder),
            "XDG_RUNTIME_DIR": str(self.folder),
            "MOZ_DISABLE_CONTENT_SANDBOX": "1",
        }
        with (self.folder / "engine.log").open("ab") as log:
            made = subprocess.Popen(
                command, env=os.environ | home | env, stdout=log, stderr=log, start_new_session=True
            )
        self.processes.append(made)
        return made

    def quit(self) -> None:
        """End what was started here, and nothing else."""
        for process in reversed(self.processes):
            with contextlib.suppress(ProcessLookupError):
                os.killpg(process.pid, signal.SIGKILL)
            process.wait()
        self.processes.clear()

    def go(self, url: str) -> None:
        self.command("Navigate", {"url": url})

    def run(self, script: str, *args: Any) -> Any:
        """Return what a function body returns; a promise is waited for."""
        return self.command("ExecuteScript", {"script": script, "args": list(args)})

    def wait(self, question: str, *args: Any, seconds: float = 30) -> Any:
        """Return the first answer to an expression that is not empty."""
        deadline = time.monotonic() + seconds
        while time.monotonic() < deadline:
            with contextlib.suppress(DriverError):  # between two pages
                if found := self.run(f"return ({question});", *args):
                    return found
            time.sleep(0.1)
        shown = self.run("return document.body?.innerText?.slice(0, 1500);")
        raise AssertionError(f"never true: {question}\n{args}\n{shown}")

    def type_into(self, css: str, text: str) -> None:
        """Type into an input; into a file input the path of a file."""
        for left in (4, 3, 2, 1, 0):
            found = self.command("FindElement", {"using": "css selector", "value": css})
            try:
                self.command("ElementSendKeys", {"id": found[ELEMENT], "text": text})
                return
            except DriverError as problem:  # the page was drawn anew in between: nothing was typed
                if not left or "stale element" not in str(problem):
                    raise

    def cookie(self, name: str, value: str) -> None:
        """Set a cookie for the page shown."""
        self.command("AddCookie", {"cookie": {"name": name, "value": value}})


class Firefox(Engine):
    """Debian's Firefox without windows, on a profile in its folder: opened again it has what it wrote."""

    name = "firefox"

    def start(self) -> None:
        profile = self.folder / "profile"
        profile.mkdir(exist_ok=True)
        port_file = profile / "MarionetteActivePort"
        port_file.unlink(missing_ok=True)
        prefs = {
            "marionette.port": 0,
            "app.update.enabled": False,
            "browser.aboutwelcome.enabled": False,
            "browser.shell.checkDefaultBrowser": False,
            "datareporting.policy.dataSubmissionEnabled": False,
            "network.captive-portal-service.enabled": False,
        }
        lines = [f"user_pref({json.dumps(name)}, {json.dumps(value)});" for name, value in prefs.items()]
        (profile / "user.js").write_text("\n".join(lines))
        assert FIREFOX is not None
        self.spawn(FIREFOX, "--headless", "--marionette", "--no-remote", "--profile", str(profile))
        self.socket = self._connect(port_file)
        self.count = 0
        self._message()  # its greeting
        self.command("NewSession", {"capabilities": {"alwaysMatch": {"timeouts": {"script": SCRIPT_MS}}}})

    def _connect(self, port_file: Path) -> socket.socket:
        deadline = time.monotonic() + START_S
        while time.monotonic() < deadline:
            with contextlib.suppress(OSError, ValueError):
                made = socket.create_connection(("127.0.0.1", int(port_file.read_text())), timeout=5)
                made.settimeout(SCRIPT_MS / 1000 + 30)
                return made
            time.sleep(0.1)
        raise DriverError((self.folder / "engine.log").read_text()[-2000:])

    def command(self, name: str, params: dict[str, Any]) -> Any:
        self.count += 1
        text = json.dumps([0, self.count, f"WebDriver:{name}", params]).encode()
        self.socket.sendall(b"%d:%s" % (len(text), text))
        _, _, error, result = self._message()
        if error:
            raise DriverError(f"{name}: {error['error']}: {error['message']}")
        return result["value"] if isinstance(result, dict) and set(result) == {"value"} else result

    def _message(self) -> Any:
        size = b""
        while (byte := self.socket.recv(1)) != b":":
            if not byte:
                raise DriverError("the browser is gone")
            size += byte
        data = b""
        while len(data) < int(size):
            data += self.socket.recv(int(size) - len(data))
        return json.loads(data)

    def quit(self) -> None:
        if hasattr(self, "socket"):
            self.socket.close()
        super().quit()


class WebKit(Engine):
    """WebKit's small browser under its own driver, on a display of its own; it keeps nothing when it ends."""

    name = "webkit"
    PATHS: Final = {
        "Navigate": ("POST", "/url"),
        "ExecuteScript": ("POST", "/execute/sync"),
        "FindElement": ("POST", "/element"),
        "AddCookie": ("POST", "/cookie"),
        "ElementSendKeys": ("POST", "/element/{id}/value"),
    }

    def start(self) -> None:
        assert WEBKIT is not None
        assert DISPLAY is not None
        display = self._display()
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        env = {"DISPLAY": display, "GDK_BACKEND": "x11", "WEBKIT_DISABLE_COMPOSITING_MODE": "1"}
        self.spawn(WEBKIT, f"--port={self.port}", "--host=127.0.0.1", **env)
        self.base = ""
        wanted = {"timeouts": {"script": SCRIPT_MS}}
        deadline = time.monotonic() + START_S
        while not self.base:
            try:
                made = self._ask("POST", "/session", {"capabilities": {"alwaysMatch": wanted}})
                self.base = f"/session/{made['sessionId']}"
            except OSError:
                if time.monotonic() > deadline:
                    raise DriverError((self.folder / "engine.log").read_text()[-2000:]) from None
                time.sleep(0.1)

    def _display(self) -> str:
        """Start a screen nobody sees; return its name."""
        reading, writing = os.pipe()
        assert DISPLAY is not None
        command = [DISPLAY, "-displayfd", str(writing), "-screen", "0", "900x1280x24", "-nolisten", "tcp"]
        with (self.folder / "screen.log").open("ab") as log:
            made = subprocess.Popen(
                command, pass_fds=[writing], stdout=log, stderr=log, start_new_session=True
            )
        self.processes.append(made)
        os.close(writing)
        with os.fdopen(reading) as told:
            return f":{told.readline().strip()}"

    def command(self, name: str, params: dict[str, Any]) -> Any:
        method, path = self.PATHS[name]
        body = {key: value for key, value in params.items() if key != "id"}
        return self._ask(method, self.base + path.format(id=params.get("id", "")), body)

    def _ask(self, method: str, path: str, body: dict[str, Any]) -> Any:
        request = urllib.request.Request(
            f"http://127.0.0.1:{self.port}{path}", json.dumps(body).encode(), method=method,
            headers={"Content-Type": "application/json"},
        )  # fmt: skip
        try:
            with urllib.request.urlopen(request, timeout=SCRIPT_MS / 1000 + 30) as answer:
                return json.load(answer)["value"]
        except urllib.error.HTTPError as problem:
            value = json.load(problem)["value"]
            raise DriverError(f"{path}: {value['error']}: {value['message']}") from None

    def quit(self) -> None:
        with contextlib.suppress(OSError, DriverError, AttributeError):
            self._ask("DELETE", self.base, {})
        super().quit()
