"""A PC that was enrolled, and people with PINs at it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from distillery.pen.trying import pins
from tests.conftest import PASSWORD

PIN = "402917"
OTHER_PIN = "730158"


@pytest.fixture
def enrolled(manager: Any, browser_of: Callable[[Any], Client]) -> Client:
    """A browser at an enrolled PC, at which the manager has the pen."""
    here = browser_of(manager)
    answer = here.post("/site/pc/enrol/", {"name": "Still house PC", "place": "Still house", "idle_minutes": ""})
    assert answer.status_code == 302, answer.content.decode()
    return here


@pytest.fixture
def with_pins(staff: Any, manager: Any) -> None:
    """Staff and manager have chosen PINs."""
    pins.choose(staff, PIN, PIN, present=manager)
    pins.choose(manager, OTHER_PIN, OTHER_PIN, present=manager)


@pytest.fixture
def take(client: Client) -> Callable[..., Any]:
    """Takes the pen at a browser: take(here, staff, PIN). Gives the answer for a script."""

    def at(here: Client, person: Any, secret: str = PASSWORD) -> Any:
        name = person if isinstance(person, str) else person.username
        return here.post("/sign-on/", {"username": name, "password": secret}, headers={"Accept": "application/json"})

    return at


def who(here: Client) -> str:
    """The sign-on name of who has the pen at a browser; blank where nobody has."""
    answer = here.get("/pen/now/", headers={"Accept": "application/json"})
    return str(answer.json()["username"]) if answer.status_code == 200 else ""
