"""No module of the house stands above itself, by whatever way of imports.

The rooms of `batches` and the steps are held apart by import-linter (pyproject.toml); this looks at every module.
Imports that only a type checker reads make no circle.
"""

from __future__ import annotations

import grimp


def circles(below: dict[str, set[str]]) -> list[list[str]]:
    """Modules that reach themselves, those of one circle together: strongly connected components (Tarjan, 1972)."""
    place: dict[str, int] = {}
    lowest: dict[str, int] = {}
    waiting: list[str] = []
    found: list[list[str]] = []

    def visit(module: str) -> None:
        place[module] = lowest[module] = len(place)
        waiting.append(module)
        for other in sorted(below[module]):
            if other not in place:
                visit(other)
                lowest[module] = min(lowest[module], lowest[other])
            elif other in waiting:
                lowest[module] = min(lowest[module], place[other])
        if lowest[module] == place[module]:
            start = waiting.index(module)
            together = sorted(waiting[start:])
            del waiting[start:]
            if len(together) > 1:
                found.append(together)

    for module in sorted(below):
        if module not in place:
            visit(module)
    return found


def test_circles_are_seen() -> None:
    below = {"a": {"b"}, "b": {"c"}, "c": {"a", "d"}, "d": set(), "e": {"a"}}
    assert circles(below) == [["a", "b", "c"]]


def test_no_module_stands_above_itself() -> None:
    graph = grimp.build_graph("distillery", "ledger", "batches", exclude_type_checking_imports=True)
    below = {module: graph.find_modules_directly_imported_by(module) for module in graph.modules}
    assert len(below) > 400
    assert circles(below) == []
