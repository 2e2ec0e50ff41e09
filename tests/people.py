"""People of the tests, made as the program makes them: claimed and sealed."""

from __future__ import annotations

from typing import Any

from distillery.seals.writing import signed


@signed("tests")
def somebody(username: str, **more: Any) -> Any:
    """A person with this sign-on name and no role."""
    from distillery.people.models import Person

    return Person.objects.create_user(username, **more)
