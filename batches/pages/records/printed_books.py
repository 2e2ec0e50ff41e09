"""What a record stands at in the books, on its printed sheet: gauges, legs of its movements, its difference."""

from __future__ import annotations

from batches.models import Record
from batches.pages.records.posted import differences_of, duty_table
from batches.pages.records.shown import RecordAsWritten, gauge_label
from distillery import figures
from distillery.plant.models import MICRO
from distillery.printing.blocks import Item
from distillery.printing.documents.record_sheet import RecordSection
from distillery.printing.tabled.cells import Cell
from distillery.printing.tabled.columns import Column, figure_column
from distillery.printing.tabled.tables import FigureTable, summed
from ledger.models import Gauge, Leg, Movement


def standing_of(written: RecordAsWritten) -> list[Movement]:
    """The movements of a record that stand, in order of time."""
    record = written.record
    return list(
        Movement.objects.standing()
        .filter(record_kind=record.kind, record_number=record.number)
        .prefetch_related("legs__account", "duties")
        .order_by("happened_at", "slot", "id")
    )


def gauges_section(written: RecordAsWritten, standing: list[Movement]) -> RecordSection | None:
    """Its gauges with the book before each; None without any."""
    gauges = list(
        Gauge.objects.filter(movement__in=standing).select_related("account").order_by("happened_at", "position")
    )
    if not gauges:
        return None
    columns = (
        Column("Gauge"),
        Column("Vessel"),
        figure_column("Litres", unit="L at 20 °C"),
        figure_column("Strength", unit="% vol at 20 °C"),
        figure_column("Pure alcohol", figures.lpa, unit="LPA"),
        figure_column("Standard uncertainty", figures.lpa, unit="LPA"),
        figure_column("Book before", figures.lpa, unit="LPA"),
    )
    rows = [
        (
            gauge_label(written.sheet, gauge.name),
            gauge.account.name,
            figures.litres_from_ul(gauge.litres20_ul),
            figures.percent(gauge.percent20_millionths / MICRO, 2),
            gauge.pure_ul,
            gauge.uncertainty_ul,
            gauge.book_ul,
        )
        for gauge in gauges
    ]
    return RecordSection("Gauges", table=FigureTable(columns, rows))


def movements_section(standing: list[Movement]) -> RecordSection | None:
    """The legs it posted; None without any."""
    legs = list(
        Leg.objects.filter(movement__in=standing)
        .select_related("account", "movement")
        .order_by("movement__happened_at", "movement", "position", "line")
    )
    if not legs:
        return None
    columns = (
        Column("Movement"),
        Column("Account"),
        Column("What"),
        figure_column("In", figures.lpa, unit="LPA", carried=True, missing=""),
        figure_column("Out", figures.lpa, unit="LPA", carried=True, missing=""),
    )
    rows: list[tuple[Cell, ...]] = [
        (
            _numbered(leg.movement),
            leg.account.name,
            leg.get_entry_display(),
            leg.pure_ul if leg.pure_ul > 0 else None,
            -leg.pure_ul if leg.pure_ul < 0 else None,
        )
        for leg in legs
    ]
    return RecordSection("In the books", table=FigureTable(columns, rows, total=summed("Total", columns, rows)))


def duty_section(standing: list[Movement]) -> RecordSection | None:
    """The duty on what left, line by line, as the record's page has it; None where none is due."""
    table = duty_table(standing)
    if table is None:
        return None
    columns = tuple(
        figure_column(one.label, unit=one.unit) if one.numeric else Column(one.label, unit=one.unit)
        for one in table.columns
    )
    return RecordSection(
        table.caption, table=FigureTable(columns, [tuple(cell.text for cell in row.cells) for row in table.rows])
    )


def difference_section(record: Record, standing: list[Movement]) -> RecordSection | None:
    """What is missing or over, and what it is judged against; None where nothing is."""
    facts = differences_of(record, standing)
    if not facts:
        return None
    return RecordSection("Difference", tuple(Item(one.label, one.text, one.unit) for one in facts))


def _numbered(movement: Movement) -> str:
    """The movement's number, and from when the books carry it where its own period was closed before."""
    if movement.true_at is None:
        return str(movement.pk)
    return f"{movement.pk}, carried from {figures.moment(movement.happened_at, year=True)}"
