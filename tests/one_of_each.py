"""A test that is written once for many values says something of the values; what an engine has to do with it is the
same for each. `.ci/run` runs them all on SQLite, and on PostgreSQL the first of each test.

What is about rows themselves, how they are kept, sealed, guarded and added up, runs with every value on both.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Final

import pytest

from tests.exhaustive import EACH_ENGINE

HERE: Final = Path(__file__).resolve().parent
EVERY_VALUE: Final = (
    *EACH_ENGINE,
    HERE / "ledger",
    HERE / "batches" / "stores",
    HERE / "batches" / "tracing",
    HERE / "distillery" / "rules",
    HERE / "distillery" / "seals",
)


def further_values(items: Iterable[pytest.Item]) -> Iterator[pytest.Item]:
    """The tests that say for a further value what the same test says for its first."""
    seen: set[str] = set()
    for item in items:
        name, bracket, _ = item.nodeid.partition("[")
        if not bracket or any(item.path == place or place in item.path.parents for place in EVERY_VALUE):
            continue
        if name in seen:
            yield item
        seen.add(name)
