"""Signing on at the shared PC: each role comes in, a wrong password does not, and signing off closes the door."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest


@pytest.mark.parametrize("role", ["staff", "manager", "officer", "administrator"])
def test_each_role_comes_in_and_goes_out(role: str, sign_on: Callable[[str], Any], axe: Callable[[Any], None]) -> None:
    page = sign_on(role)
    axe(page)
    page.get_by_role("button", name="Sign off").click()
    page.wait_for_url("**/sign-on/**")
    assert page.goto("/").url.split("?")[0].endswith("/sign-on/")


def test_a_wrong_password_is_told_in_words(page: Any, axe: Callable[[Any], None]) -> None:
    page.goto("/sign-on/")
    axe(page)
    page.fill("input[name=username]", "isla")
    page.fill("input[name=password]", "not this one")
    with page.expect_navigation():
        page.press("input[name=password]", "Enter")
    assert "/sign-on/" in page.url
    # What went wrong is announced, not only coloured.
    assert page.get_by_role("alert").count() >= 1
    axe(page)
