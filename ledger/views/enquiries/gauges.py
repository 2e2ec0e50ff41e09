"""The gauges behind an enquiry: those of the vessel in question as its sheet has them, and all there are in a table."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from typing import Final

from distillery.figures import litres, litres_from_ul, lpa, moment, percent
from distillery.pages import LOOK, Cell, Column, Row, Table
from distillery.plant.models import MICRO
from ledger.comparing.findings.likely import ComesTo, Likely
from ledger.models import Gauge, MovementKind
from ledger.posting.accounts import VESSEL_ACCOUNT
from ledger.posting.gauging import PARTS
from ledger.views.ways import account_href, record_href
from ledger.words_of_columns import words_of

WOULD_BE: Final = "would be"
NOT_READ: Final = "not read"
# So many gauges of the vessel before the reading in question and after it.
BEFORE, AFTER = 1, 2
SIDES: Final = ("before", "after")


def gauges_of(records: list[tuple[str, str]]) -> list[Gauge]:
    """The standing gauges of some records, each given as (kind, number), in order of time."""
    numbers = {number for _, number in records}
    gauges = (
        Gauge.objects.standing()
        .filter(movement__record_number__in=numbers, movement__kind=MovementKind.OPERATION)
        .select_related("movement", "account")
        .order_by("happened_at", "position")
    )
    return [one for one in gauges if (one.movement.record_kind, one.movement.record_number) in records]


def grid(gauges: Sequence[Gauge], cause: Likely) -> Table | None:
    """The vessel's gauges on both sides of a reading, in the columns of its sheet, with what it would be below it.

    None where no gauge of these has the reading: a measured flow, or a cause that is no reading.
    """
    at_vessel = [one for one in gauges if one.account.code == f"{VESSEL_ACCOUNT}{cause.vessel}"]
    place = next((n for n, one in enumerate(at_vessel) if _is_of(one, cause)), None)
    if place is None:
        return None
    near = at_vessel[max(0, place - BEFORE) : place + AFTER]
    wrong = at_vessel[place]
    parts = _parts_of(near)
    rows = []
    for one in near:
        rows.append(_row(one, parts, cause if one is wrong else None))
        if one is wrong and cause.comes_to is not None:
            rows.append(_would_be(one, parts, cause, cause.comes_to))
    return Table(
        caption=wrong.account.name,
        note="its gauges on both sides of the reading; ± is two standard uncertainties",
        columns=(
            Column("Gauge"),
            *(Column(label[:1].upper() + label[1:], numeric=True, unit=unit) for label, unit in parts.values()),
            Column("Litres", numeric=True, unit="at 20 °C"),
            Column("Alcohol", numeric=True, unit="LPA"),
            Column("±", numeric=True, unit="LPA"),
        ),
        rows=rows,
        empty="Nothing was gauged.",
        wide=True,
    )


def still_stands(gauges: Iterable[Gauge], cause: Likely) -> bool:
    """Whether a reading still stands as it was when it was found wrong; of one that no gauge of these has, yes."""
    written = [json.loads(one.raw)[cause.field] for one in gauges if _is_of(one, cause)]
    return not written or cause.written in written


def _is_of(gauge: Gauge, cause: Likely) -> bool:
    return gauge.movement.record_number == cause.record and cause.field in json.loads(gauge.raw)


def _parts_of(gauges: Iterable[Gauge]) -> dict[str, tuple[str, str]]:
    """The columns these gauges were read in, by the end of their names, with label and unit, in the sheet's order."""
    found: dict[str, tuple[str, str]] = {}
    for gauge in gauges:
        for name in json.loads(gauge.raw):
            words = words_of(gauge.movement.record_kind, name)
            found.setdefault(_part_of(name), (words.short, words.unit))
    order = list(PARTS.values())
    return dict(sorted(found.items(), key=lambda one: order.index(one[0]) if one[0] in order else len(order)))


def _part_of(column: str) -> str:
    return max((part for part in PARTS.values() if column.endswith(part)), key=len, default=column)


def _row(gauge: Gauge, parts: Iterable[str], cause: Likely | None) -> Row:
    raw: dict[str, str] = json.loads(gauge.raw)
    typed = {_part_of(name): text for name, text in raw.items()}
    doubtful = _part_of(cause.field) if cause is not None else ""
    return Row(
        [
            Cell(
                f"{_when(gauge)}, {moment(gauge.happened_at, year=False)}",
                href=record_href(gauge.movement.record_kind, gauge.movement.record_number),
            ),
            *(Cell(typed.get(part, NOT_READ), state=LOOK if part == doubtful else None) for part in parts),
            Cell(litres_from_ul(gauge.litres20_ul)),
            Cell(lpa(gauge.pure_ul)),
            Cell(lpa(2 * gauge.uncertainty_ul)),
        ]
    )


def _when(gauge: Gauge) -> str:
    """'after SR0007', where the sheet gauges the vessel on both sides; the record alone elsewhere."""
    side = next((one for one in SIDES if gauge.name.endswith(one)), "")
    return f"{side} {gauge.movement.record_number}".strip()


def _would_be(gauge: Gauge, parts: Iterable[str], cause: Likely, comes_to: ComesTo) -> Row:
    raw: dict[str, str] = json.loads(gauge.raw)
    typed = {_part_of(name): text for name, text in raw.items()} | {_part_of(cause.field): cause.would_be}
    return Row(
        [
            Cell(WOULD_BE),
            *(Cell(typed.get(part, NOT_READ)) for part in parts),
            Cell(litres(comes_to.litres20)),
            Cell(lpa(round(comes_to.lpa * MICRO))),
            Cell(lpa(round(2 * comes_to.uncertainty_lpa * MICRO))),
        ]
    )


def readings_table(gauges: Sequence[Gauge]) -> Table:
    """Gauges with what was typed and how sure each is."""
    return Table(
        caption="What was measured",
        note="on both sides, as typed and as worked out",
        columns=(
            Column("Taken"),
            Column("Record"),
            Column("Vessel"),
            Column("Gauge"),
            Column("As typed"),
            Column("Liquid", numeric=True, unit="L at 20 °C"),
            Column("Strength", numeric=True, unit="% vol"),
            Column("Alcohol", numeric=True, unit="LPA"),
            Column("± two standard uncertainties", numeric=True),
        ),
        rows=[
            Row(
                [
                    Cell(moment(one.happened_at, year=True)),
                    Cell(
                        one.movement.record_number,
                        href=record_href(one.movement.record_kind, one.movement.record_number),
                    ),
                    Cell(one.account.name, href=account_href(one.account)),
                    Cell(words_of(one.movement.record_kind, one.name).label),
                    Cell(_typed(one)),
                    Cell(litres_from_ul(one.litres20_ul)),
                    Cell(percent(one.percent20_millionths / MICRO, 2)),
                    Cell(lpa(one.pure_ul)),
                    Cell(lpa(2 * one.uncertainty_ul)),
                ]
            )
            for one in gauges
        ],
        empty="Nothing was gauged in this operation.",
        wide=True,
    )


def _typed(gauge: Gauge) -> str:
    raw: dict[str, str] = json.loads(gauge.raw)
    return ", ".join(words_of(gauge.movement.record_kind, name).with_value(text) for name, text in raw.items())
