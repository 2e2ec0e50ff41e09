"""From nothing to a site that is set up: the server started, and all that First month asks for before work."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.journeys.from_nothing import code_of, set_up, shot
from tests.running_site import Databases, run, serving_process

LONGEST_S = 600
# The other pages are looked over by the journeys that are about them.
LOOKED_OVER = frozenset({"1-first-run", "7-set-up"})


@pytest.fixture(scope="module")
def console() -> list[str]:
    """What the server says, line by line."""
    return []


@pytest.fixture(scope="module")
def site(chromium: str, databases: Databases, console: list[str]) -> Iterator[str]:
    """Address of a site with nothing in it, as `serve` makes it."""
    url = databases.new()
    # Making the tables takes longer than a start may on a busy machine; `serve` then finds nothing to do.
    assert run(url, "migrate", "--verbosity", "0").returncode == 0
    with serving_process(url, console=console) as (_, address):
        yield address


@pytest.mark.browser
def test_from_an_empty_database_to_a_site_that_is_set_up(
    page: Any, axe: Callable[[Any], None], site: str, console: list[str], tmp_path: Path
) -> None:
    def look(shown: Any, name: str) -> None:
        shot(shown, name)
        if name in LOOKED_OVER:
            axe(shown)

    began = time.monotonic()
    set_up(page, site, code_of(console), tmp_path, look)
    assert time.monotonic() - began < LONGEST_S
