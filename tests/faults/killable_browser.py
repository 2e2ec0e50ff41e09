"""A Chromium with its profile on the disk, started by itself so that it can be killed by its id."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import time
from pathlib import Path
from typing import Any, Final

from tests.faults.small_plant import PASSWORD, USERNAME

PLACES: Final = ("chromium", "chromium-browser", "google-chrome", "chrome")
FLAGS: Final = (
    "--headless=new",
    "--disable-gpu",
    "--disable-quic",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--remote-debugging-port=0",
)
LONGEST_START_S: Final = 30
# A busy machine takes its time over a password.
LONGEST_WAIT_MS: Final = 60_000
# What the page keeps, and what it has written to the disk.
NOTHING_WAITS: Final = """async () => {
    const left = await window.gaugebookOnDisk?.of(window.gaugebookUnsent?.person()) ?? [];
    return !left.length && !Object.keys(localStorage).some((key) => key.startsWith('gaugebook:'));
}"""


class Browser:
    """One browser of one PC, over its lives. Raises AssertionError where Chromium is not on this computer."""

    def __init__(self, profile: Path) -> None:
        from playwright.sync_api import sync_playwright

        found = os.environ.get("CHROMIUM") or next(filter(None, map(shutil.which, PLACES)), None)
        assert found, "Chromium is not on this computer: install it, or say where it is in CHROMIUM."
        self._chromium, self._profile = found, profile
        self._playwright = sync_playwright().start()
        self._process: subprocess.Popen[bytes] | None = None
        self._connected: Any = None
        self._page: Any = None
        self._address = ""

    def start(self, address: str) -> Any:
        """Opens the browser at the site's first page; gives the page."""
        port_file = self._profile / "DevToolsActivePort"
        port_file.unlink(missing_ok=True)
        # What the last life left to say that the profile is in use: its process is gone.
        for lock in self._profile.glob("Singleton*"):
            lock.unlink()
        as_root = ("--no-sandbox",) if hasattr(os, "geteuid") and os.geteuid() == 0 else ()
        self._process = subprocess.Popen(
            [self._chromium, *FLAGS, *as_root, f"--user-data-dir={self._profile}", "about:blank"],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        until = time.monotonic() + LONGEST_START_S
        while not port_file.exists() or not port_file.read_text().strip():
            assert time.monotonic() < until, "Chromium did not start."
            time.sleep(0.05)
        port = port_file.read_text().splitlines()[0]
        self._connected = self._playwright.chromium.connect_over_cdp(f"http://127.0.0.1:{port}")
        context = self._connected.contexts[0]
        self._page = context.pages[0] if context.pages else context.new_page()
        self._page.set_default_timeout(LONGEST_WAIT_MS)
        self._address = address
        self.goto("/")
        return self

    def __getattr__(self, name: str) -> Any:
        return getattr(self._page, name)

    def goto(self, path: str) -> None:
        """Opens a page of the site."""
        self._page.goto(f"{self._address}{path}")

    def sign_on_if_asked(self) -> None:
        """Signs on where the last session is gone."""
        if "/sign-on/" not in self._page.url:
            return
        self._page.fill("input[name=username]", USERNAME)
        self._page.fill("input[name=password]", PASSWORD)
        self._page.press("input[name=password]", "Enter")
        self._page.wait_for_url(lambda url: "/sign-on/" not in url)

    def wait_until_nothing_waits(self) -> None:
        """Until what was kept in the browser has been sent."""
        until = time.monotonic() + LONGEST_WAIT_MS / 1000
        while not self._page.evaluate(NOTHING_WAITS):
            assert time.monotonic() < until, self._page.evaluate("() => JSON.stringify(localStorage)")
            time.sleep(0.05)

    def close(self) -> None:
        """Shuts it in peace, as at the end of a day."""
        session = self._connected.new_browser_cdp_session()
        session.send("Browser.close")
        assert self._process is not None
        self._process.wait(LONGEST_START_S)
        self._process = None
        self.disconnect()

    def kill(self) -> None:
        """kill -9 of the processes of this browser, which are a group of their own."""
        if self._process is not None and self._process.poll() is None:
            os.killpg(self._process.pid, signal.SIGKILL)
            self._process.wait()

    def disconnect(self) -> None:
        """Lets go of a browser that is gone."""
        if self._connected is not None:
            try:
                self._connected.close()
            finally:
                self._connected = None
