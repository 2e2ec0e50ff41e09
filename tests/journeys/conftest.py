"""The real site and a real browser: `demo` fills a database, `serve` serves it, Chromium opens it.

Each file of journeys gets the demonstration afresh, so what one writes no other sees. A journey fails if the
page asked anything of another host, threw an error, or broke the content security policy.
Without Chromium the journeys are skipped; with CI=true that is a failure.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest

from tests.running_site import Databases, serving

HERE = Path(__file__).resolve().parent
FLAGS = (
    "--disable-gpu",
    "--disable-quic",
    "--disable-background-networking",
    "--no-first-run",
    "--disable-component-update",
    "--disable-sync",
)
GRAVE = frozenset({"serious", "critical"})
LONGEST_WAIT_MS = 10_000


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if HERE in item.path.parents:
            item.add_marker(pytest.mark.browser)


@pytest.fixture(scope="module")
def site(chromium: str, demo_database: str, databases: Databases) -> Iterator[str]:
    """Address of the demonstration, served by the site's own command: http://127.0.0.1:PORT"""
    with serving(databases.copy_of(demo_database)) as address:
        yield address


@pytest.fixture(scope="module")
def browser(chromium: str) -> Iterator[Any]:
    from playwright.sync_api import sync_playwright

    as_root = ("--no-sandbox",) if hasattr(os, "geteuid") and os.geteuid() == 0 else ()
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=chromium, args=[*FLAGS, *as_root])
        yield opened
        opened.close()


@pytest.fixture
def page(browser: Any, site: str) -> Iterator[Any]:
    """A window of 1280 by 800 at which nobody has signed on; goto('/') opens the site."""
    context = browser.new_context(
        base_url=site, viewport={"width": 1280, "height": 800}, locale="en-GB", timezone_id="Europe/London"
    )
    context.set_default_timeout(LONGEST_WAIT_MS)
    window = context.new_page()
    faults: list[str] = []

    def on_request(request: Any) -> None:
        if urlsplit(request.url).scheme in {"http", "https"} and not request.url.startswith(f"{site}/"):
            faults.append(f"asked {request.url}")

    def on_console(message: Any) -> None:
        # A page that is refused on purpose says so here too; its status is the journey's to judge.
        if message.type == "error" and not message.text.startswith("Failed to load resource"):
            faults.append(message.text)

    def on_response(response: Any) -> None:
        if response.status >= 500:
            faults.append(f"{response.status} from {response.url}")

    context.on("request", on_request)
    context.on("console", on_console)
    context.on("response", on_response)
    window.on("pageerror", lambda error: faults.append(str(error)))
    yield window
    context.close()
    assert not faults, "\n".join(faults)


@pytest.fixture
def sign_on(page: Any) -> Callable[[str], Any]:
    """Signs on one of the demonstration's people by role: sign_on('manager'). Gives the window."""
    from distillery.management.demonstration import GUESTS

    def as_role(role: str) -> Any:
        guest = next(guest for guest in GUESTS if guest.role == role)
        page.goto("/sign-on/")
        page.fill("input[name=username]", guest.username)
        page.fill("input[name=password]", guest.password)
        page.press("input[name=password]", "Enter")
        page.wait_for_url(lambda url: "/sign-on/" not in url)
        return page

    return as_role


@pytest.fixture
def axe() -> Callable[[Any], None]:
    """Fails where the page shown has a serious fault for people who cannot see, point or tell colours apart."""
    from axe_playwright_python.sync_playwright import Axe

    def look_over(shown: Any) -> None:
        found = Axe().run(shown).response["violations"]
        grave = [
            f"{fault['id']}: {fault['help']}: {node['html'][:200]}"
            for fault in found
            if fault["impact"] in GRAVE
            for node in fault["nodes"]
        ]
        assert not grave, f"{shown.url}\n" + "\n".join(grave)

    return look_over
