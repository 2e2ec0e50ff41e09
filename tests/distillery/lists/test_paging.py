"""Pages of a list by the key of the last row seen: no row twice, none left out, and nothing for a key not made here."""

from __future__ import annotations

import json
from datetime import UTC, datetime

import pytest
from django.test import RequestFactory

from distillery.lists.columns import FigureColumn
from distillery.lists.paging import NoSuchKey, key_page
from distillery.lists.showing import Listed, listed
from distillery.lists.tables import HouseTable
from distillery.plant.models import Kind, Stage, Vessel
from distillery.rules.models import UsualFigure
from distillery.seals.writing import signed


@signed("tests")
def vats(number: int) -> None:
    """Vats whose capacities come in pairs, so that the primary key has to tell them apart."""
    Vessel.objects.bulk_create(
        Vessel(
            code=f"T{count:02}",
            name=f"Vat {count}",
            kind=Kind.VAT,
            stage=Stage.NEW_SPIRIT,
            capacity_ul=(count // 2 + 1) * 1_000_000,
        )
        for count in range(number)
    )


def codes(rows: list[Vessel]) -> list[str]:
    return [row.code for row in rows]


@pytest.mark.parametrize("order", [("capacity_ul",), ("-capacity_ul",), ("code",), ("-code", "-pk")])
def test_every_row_comes_once_onwards_and_back(db: None, order: tuple[str, ...]) -> None:
    vats(23)
    rows = Vessel.objects.order_by(*order)
    page = key_page(rows, size=5)
    assert page.before == ""
    onwards = [page]
    while page.after:
        page = key_page(rows, after=page.after, size=5)
        onwards.append(page)
    seen = [code for one in onwards for code in codes(one.object_list)]
    assert len(seen) == 23
    assert set(seen) == set(codes(list(rows)))
    assert len(onwards) == 5
    back = [page]
    while page.before:
        page = key_page(rows, before=page.before, size=5)
        back.append(page)
    assert [codes(one.object_list) for one in reversed(back)] == [codes(one.object_list) for one in onwards]


def test_the_last_page_is_the_end_of_the_list(db: None) -> None:
    vats(12)
    rows = Vessel.objects.order_by("code")
    page = key_page(rows, last=True, size=5)
    assert codes(page.object_list) == ["T07", "T08", "T09", "T10", "T11"]
    assert page.after == ""
    assert codes(key_page(rows, before=page.before, size=5).object_list) == ["T02", "T03", "T04", "T05", "T06"]


def test_an_empty_list_has_one_empty_page(db: None) -> None:
    page = key_page(Vessel.objects.order_by("code"), last=True)
    assert (page.object_list, page.before, page.after) == ([], "", "")


@pytest.mark.parametrize(
    "key",
    [
        "x",
        "[",
        "[]",
        "7",
        '["T01"]',
        '["T01",1,2]',
        '["T01",{}]',
        '["a\\u0000",1]',
        json.dumps(["T01", 2**70]),
        '["T01","one"]',
        "[" * 400,
        "1" * 600,
    ],
)
def test_a_key_that_was_not_made_here_is_refused(db: None, key: str) -> None:
    with pytest.raises(NoSuchKey):
        key_page(Vessel.objects.order_by("code"), after=key)


class Numbers(HouseTable):
    """Whole numbers in memory."""

    number = FigureColumn("Number", lambda row: row)
    name, caption = "numbers", "Numbers"


def numbers(query: str, many: int = 450) -> Listed[Numbers]:
    return listed(RequestFactory().get(f"/numbers/?{query}"), Numbers, range(many))


@pytest.mark.parametrize(
    ("query", "lines", "word"),
    [
        ("", 50, ""),
        ("per_page=200", 200, ""),
        ("per_page=100000", 200, "A page has 5 to 200 lines"),
        ("per_page=99999999999999999", 50, "no number of lines"),
        ("per_page=0", 5, "A page has 5 to 200 lines"),
        ("per_page=-3", 50, "no number of lines"),
        ("per_page=many", 50, "no number of lines"),
        ("page=77", 50, "has no page '77'"),
        ("sort=colour", 50, "cannot be sorted by 'colour'"),
        ("as=doc", 50, "not made as 'doc'"),
    ],
)
def test_a_page_has_no_more_lines_than_it_may_and_says_what_was_left_out(query: str, lines: int, word: str) -> None:
    table = numbers(query).table
    assert len(table.shown()) == lines
    assert word in " ".join(table.words)
    assert bool(table.words) == bool(word)


def test_a_list_in_memory_has_first_next_and_last_pages() -> None:
    first, last = numbers("").table, numbers("page=last&per_page=200").table
    assert [way.text for way in first.ways] == ["Lines after", "Last lines"]
    assert [row.cells[0].text for row in last.shown()][::49] == ["400", "449"]
    assert [way.text for way in last.ways] == ["First lines", "Lines before"]
    assert "begins before them" in last.goes_on
    assert numbers("", 3).table.ways == []


def test_times_of_keys_outside_the_years_of_a_site_are_refused(db: None) -> None:
    from batches.models import Record

    rows = Record.objects.order_by("-happened_from", "-pk")
    for when in ("0001-01-01T00:00:00+00:00", "9999-12-31T23:59:59+00:00", "2027-03-01T00:00:00", "yesterday"):
        with pytest.raises(NoSuchKey):
            key_page(rows, after=json.dumps([when, 1]))
    fits = json.dumps([datetime(2027, 3, 1, tzinfo=UTC).isoformat(), 1])
    assert key_page(rows, after=fits).object_list == []


def test_a_list_in_order_of_a_day_goes_on_past_its_first_page(db: None) -> None:
    rows = UsualFigure.objects.order_by("from_day", "name")
    seen, page = [], key_page(rows, size=7)
    seen += page.object_list
    while page.after:
        page = key_page(rows, after=page.after, size=7)
        seen += page.object_list
    assert [one.pk for one in seen] == [one.pk for one in rows]
