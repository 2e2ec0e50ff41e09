"""What a filter may be set to is asked once for a page, and anew for the next."""

from __future__ import annotations

from distillery.lists.filters import HouseFilters, RowFilter, Rows

ASKED: list[str] = []


def warehouses() -> list[tuple[str, str]]:
    """The warehouses so far: one more at each asking."""
    ASKED.append(f"{len(ASKED) + 1}")
    return [(one, one) for one in ASKED]


class ByWarehouse(HouseFilters):
    """One filter whose choices are asked for."""

    warehouse = RowFilter(label="Warehouse", read=str, choices=warehouses)


def test_choices_are_asked_once_for_a_page_and_anew_for_the_next() -> None:
    ASKED.clear()
    first = ByWarehouse({"warehouse": "1"}, queryset=Rows(["1", "2"]))
    assert list(first.qs) == ["1"]
    assert 'value="1" selected' in str(first.form["warehouse"])
    assert len(ASKED) == 1

    later = ByWarehouse({"warehouse": "2"}, queryset=Rows(["1", "2"]))
    assert list(later.qs) == ["2"], "what came since can be chosen"
    assert len(ASKED) == 2
