"""Puts into a wheel what a checkout has at the top: pages and the demonstration's tables.

They go where an installed program looks for them (`distillery/starting/where.py`). In pyproject.toml alone they would
be copied beside an editable install too, which reads them from the checkout.
"""

from __future__ import annotations

from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

CARRIED = ("templates", "fixtures")


class IntoTheWheel(BuildHookInterface):
    """Called by hatchling as it begins a build; an editable one carries nothing."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        if version == "standard":
            build_data["force_include"].update({name: f"distillery/carried/{name}" for name in CARRIED})
