"""A run as the one page that it is printed on: facts, what was measured, its balance, where it came from and went.

What stands there is what the sheet of the step declares. Every field that was written is on the page: readings of
gauges in the table of what was measured, the rest among the facts.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from batches.models import Link as RecordLink
from batches.models import Reading, Record
from batches.pages.records.balance import line_of
from batches.pages.records.links import LEAST_SHARE, shares_of
from batches.pages.records.measured import gauges_table, shown_there
from batches.pages.records.posted import Books, books_of
from batches.pages.records.shown import RecordAsWritten, as_text, unit_of
from batches.sheets.sheet import Sheet
from batches.sheets.site import Site
from distillery import figures
from distillery.people.models import Person
from distillery.printing.blocks import Item
from distillery.printing.documents.run_sheet import RunLayout
from distillery.printing.tabled.paged import bare_table
from ledger.views.left_facts import JUDGED

Links = Sequence[tuple[Record, RecordLink]]


def is_run(sheet: Sheet) -> bool:
    """Whether the records of a step are runs of a still, which go on and are drawn against time."""
    return sheet.running is not None and sheet.distils is not None


def initials_of(people: Iterable[Person]) -> dict[int, str]:
    """People by their key as they stand beside a reading: initials, or the whole name where two have the same."""
    names = {one.pk: one.shown_name for one in people}
    short = {key: "".join(part[0] for part in name.split()).upper() for key, name in names.items()}
    return {key: mark if list(short.values()).count(mark) == 1 else names[key] for key, mark in short.items()}


def run_layout(written: RecordAsWritten, readings: Sequence[Reading], came_from: Links, went_to: Links) -> RunLayout:
    """The page of a run."""
    books = books_of(written.record, written.sheet, Site())
    table = gauges_table(written, books.measured)
    ways = [("Made from", came_from), ("Went into", went_to)]
    people = {one.person_id: one.person for one in readings}
    initials = initials_of(people.values())
    who = ", ".join(f"{initials[key]} {one.shown_name}" for key, one in people.items())
    return RunLayout(
        facts=_facts(written, books),
        measured=bare_table(table) if table is not None else None,
        balance=_boxes(books),
        said=(
            *_besides(books),
            *(f"{word}: {_passed(links)}." for word, links in ways if links),
            *([f"Read by: {who}."] if who else []),
        ),
    )


def _facts(written: RecordAsWritten, books: Books) -> tuple[Item, ...]:
    in_table = shown_there(written, books.measured)
    items = []
    for field in (field for section in written.sheet.sections for field in section.fields):
        typed, change = written.typed.get(field.name, ""), written.change_of(field.name)
        if field.name in in_table or not (typed or change):
            continue
        items.append(
            Item(
                field.label,
                as_text(field, typed) if typed else "struck",
                unit_of(field, typed) if typed else "",
                as_text(field, change.old) if change else "",
                change.mark if change else "",
            )
        )
    return tuple(items)


def _boxes(books: Books) -> tuple[Item, ...]:
    balance = books.balance
    if not balance.given_ul:
        return ()
    own, _ = line_of(books.differences, balance)
    return (
        Item("Charged", balance.given),
        *(Item(part.label, part.text) for part in balance.took),
        Item("Accounted for", figures.lpa(balance.taken_ul)),
        *(Item(one.label, one.text) for one in own if one.note != JUDGED),
    )


def _besides(books: Books) -> tuple[str, ...]:
    """Of what was charged, what each vessel gave; and what gauges found beside their books."""
    gave = ", ".join(f"{part.label} {part.text}" for part in books.balance.gave)
    _, found = line_of(books.differences, books.balance)
    at_gauges = ", ".join(f"{one.label} {one.text}" for one in found)
    return tuple(
        f"{word}: {said} LPA."
        for word, said in (("Charged from", gave), ("Found besides", at_gauges))
        if said and (word != "Charged from" or len(books.balance.gave) > 1)
    )


def _passed(links: Links) -> str:
    said = []
    for other, pure, mass, share in shares_of(links):
        if share is not None and share < LEAST_SHARE:
            continue
        amount = f"{figures.lpa(pure)} LPA" if pure else f"{figures.kilograms(mass)} kg" if mass else ""
        part = f"{figures.percent(share * 100)} %" if share is not None and len(links) > 1 else ""
        said.append(" ".join(filter(None, (other.number, amount, f"({part})" if part else ""))))
    return ", ".join(said)
