"""A security key that Chromium pretends to have (Chrome DevTools Protocol, domain WebAuthn) takes the pen."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from distillery.management.demonstration import GUESTS

KEY = {
    "protocol": "ctap2",
    "transport": "usb",
    "hasResidentKey": True,
    "hasUserVerification": True,
    "isUserVerified": True,
    "automaticPresenceSimulation": True,
}


@pytest.fixture
def page(browser: Any, site: str) -> Iterator[Any]:
    """A window at localhost, since browsers offer no keys at a bare address."""
    context = browser.new_context(base_url=site.replace("127.0.0.1", "localhost"))
    context.set_default_timeout(15_000)
    window = context.new_page()
    faults: list[str] = []
    window.on("pageerror", lambda error: faults.append(str(error)))
    context.on(
        "console",
        lambda said: (
            faults.append(said.text)
            if said.type == "error" and not said.text.startswith("Failed to load resource")
            else None
        ),
    )
    yield window
    context.close()
    assert not faults, "\n".join(faults)


def sign_on_as(page: Any, name: str) -> None:
    guest = next(one for one in GUESTS if one.username == name)
    page.goto("/sign-on/")
    page.fill("input[name=username]", guest.username)
    page.fill("input[name=password]", guest.password)
    with page.expect_navigation():
        page.press("input[name=password]", "Enter")


def test_a_bare_address_says_that_keys_do_not_work_there(browser: Any, site: str) -> None:
    context = browser.new_context(base_url=site)
    window = context.new_page()
    sign_on_as(window, "isla")
    window.goto("/site/key/")
    assert "not at a bare address" in window.inner_text("main")
    context.close()


def test_a_key_is_registered_with_a_manager_and_takes_the_pen(page: Any, axe: Any) -> None:
    chrome = page.context.new_cdp_session(page)
    chrome.send("WebAuthn.enable")
    held = chrome.send("WebAuthn.addVirtualAuthenticator", {"options": KEY})["authenticatorId"]
    sign_on_as(page, "isla")
    page.goto("/site/pc/enrol/")
    page.get_by_label("Name of this PC").fill("Key PC")
    with page.expect_navigation():
        page.get_by_role("button", name="Enrol this PC").click()
    page.goto("/site/key/?name=brodie")
    axe(page)
    page.get_by_label("What it is called").fill("blue key")
    with page.expect_navigation():
        page.get_by_role("button", name="Register it").click()
    assert "blue key of Brodie Catterwell is registered" in page.inner_text("main .messages")
    assert len(chrome.send("WebAuthn.getCredentials", {"authenticatorId": held})["credentials"]) == 1
    # Over a page, with what was typed on it kept.
    page.goto("/records/transfer/new/")
    page.fill("input[name=from_before_dip_mm]", "1000")
    page.keyboard.press("F2")
    page.get_by_role("button", name="Use a key or card").click()
    page.wait_for_selector(".pen-over", state="detached")
    assert "Brodie Catterwell has the pen" in page.inner_text(".name-bar .person")
    assert page.input_value("input[name=from_before_dip_mm]") == "1000"
    # On the page for signing on, by somebody who remembers no number.
    with page.expect_navigation():
        page.get_by_role("button", name="Sign off").click()
    with page.expect_navigation():
        page.get_by_role("button", name="Use a key or card").click()
    assert "Brodie Catterwell has the pen" in page.inner_text(".name-bar .person")
    # Once it is ended it opens nothing.
    with page.expect_navigation():
        page.get_by_role("button", name="Sign off").click()
    page.goto("/sign-on/?name=isla")
    page.locator("input[value=isla]").check()
    page.fill("input[name=password]", next(one.password for one in GUESTS if one.username == "isla"))
    with page.expect_navigation():
        page.press("input[name=password]", "Enter")
    page.goto("/site/")
    page.get_by_role("link", name="blue key").click()
    with page.expect_navigation():
        page.get_by_role("button", name="End blue key").click()
    page.goto("/site/key/?name=isla")
    page.get_by_label("What it is called").fill("another key")
    with page.expect_navigation():
        page.get_by_role("button", name="Register it").click()
    page.goto("/")
    page.keyboard.press("F2")
    page.wait_for_selector(".pen-over .names")
    page.locator(".pen-over input[value=brodie]").check()
    page.get_by_role("button", name="Use a key or card").click()
    said = page.locator(".pen-over .key-said p")
    said.or_(page.locator(".name-bar .person", has_text="Isla")).first.wait_for()
    assert "Brodie" not in page.inner_text(".name-bar .person")
