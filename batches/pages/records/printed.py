"""A record on paper.

Values print as they were typed; a value that was put right prints with a line through it and a footnote.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from batches.hands import names_in
from batches.models import Link as RecordLink
from batches.models import Reading, Record, State
from batches.pages.records.links import LEAST_SHARE, shares_of
from batches.pages.records.printed_books import (
    difference_section,
    duty_section,
    gauges_section,
    movements_section,
    standing_of,
)
from batches.pages.records.readings import (
    brought_to_20,
    cuts_of,
    degrees,
    is_struck,
    readings_of,
    value_of,
    writer_of,
    written_at_20,
)
from batches.pages.records.shown import (
    RecordAsWritten,
    as_text,
    is_figure,
    title_of,
    unit_of,
)
from batches.pages.results import as_it_stands, as_sections, pictures_of, results_of
from batches.pages.running.course import course_of
from batches.records import signatures
from batches.sheets.sheet import Field, Section
from batches.sheets.site import Site
from distillery import figures
from distillery.printing.blocks import Item, Note
from distillery.printing.cells import Cell, Struck
from distillery.printing.columns import Column, figure_column
from distillery.printing.curve import Cut, RunCurve
from distillery.printing.curve import Reading as CurveReading
from distillery.printing.house import impression, site
from distillery.printing.picture import Picture
from distillery.printing.record_sheet import (
    Correction,
    LinkLine,
    RecordSection,
    RecordSheet,
    WorkedOutAnew,
    record_sheet_pdf,
)
from distillery.printing.signing import MEASURED_CHECKED_MANAGER, Signatory
from distillery.printing.tables import FigureTable

NOT_SIGNED = "It waits for a second person and is not in the books."


def record_pdf(written: RecordAsWritten, *, printed_at: datetime, printed_by: str) -> bytes:
    """The printed record."""
    return record_sheet_pdf(record_sheet(written), impression(printed_at, printed_by))


def record_sheet(written: RecordAsWritten) -> RecordSheet:
    """The record as the printing room takes it."""
    record, sheet = written.record, written.sheet
    readings = readings_of(written) if sheet.readings else []
    standing = standing_of(written)
    taken = RecordLink.objects.filter(taker=record).select_related("giver")
    given = RecordLink.objects.filter(giver=record).select_related("taker")
    return RecordSheet(
        site=site(),
        title=sheet.printed_title or sheet.title,
        number=record.number,
        subtitle=(_subtitle(written, readings), *_signed(written)),
        sections=tuple(
            section
            for section in (
                *(_section(written, one) for one in sheet.sections),
                _lines(written),
                gauges_section(written, standing),
                movements_section(standing),
                difference_section(record, standing),
                duty_section(standing),
            )
            if section is not None
        ),
        readings=_readings(written, readings),
        curve=_curve(written, readings),
        made_from=_links([(one.giver, one) for one in taken]),
        went_into=_links([(one.taker, one) for one in given]),
        corrections=tuple(
            Correction(
                one.mark,
                one.label,
                one.old,
                one.new,
                one.version.person.shown_name,
                one.version.written_at,
                one.version.reason or "written again before it was complete",
            )
            for one in written.changes
        ),
        notes=tuple(Note(str(place), f"{one.label}: {one.sentence}") for place, one in enumerate(written.remarks, 1)),
        version=written.latest.serial,
        landscape=bool(sheet.rows),
        signatories=_signatories(written),
        anew=lambda: _worked_out(written, readings),
    )


def _worked_out(written: RecordAsWritten, readings: Sequence[Reading]) -> WorkedOutAnew:
    """What other records have a share in: what the step makes and draws of it, and its course over the last batches.

    At its end, or by what was read last while it is on, so that a sheet printed again says the same.
    """
    record = written.record
    now = record.happened_to or max([record.happened_from, *(one.at for one in readings)])
    course, standing = course_of(record, name="course"), as_it_stands(written, Site())
    return WorkedOutAnew(
        as_sections(results_of(standing, now)),
        Picture(course.svg()) if course is not None else None,
        tuple(Picture(one.chart, one.caption) for one in pictures_of(standing, now)),
    )


def _subtitle(written: RecordAsWritten, readings: Sequence[Reading]) -> str:
    record = written.record
    start = figures.moment(record.happened_from, year=True)
    end = record.happened_to
    when = f"{start} to {figures.moment(end, year=True)}" if end is not None and end != record.happened_from else start
    latest = written.latest
    hands = written.hands[-1][1]
    at = figures.moment(latest.written_at, year=True)
    keyed = [one.blank_sheet for one in written.versions] + [one.blank_sheet for one in readings]
    serials = dict.fromkeys(serial for serial in keyed if serial)
    paper = f" First written on blank sheet {', '.join(serials)}." if serials else ""
    return f"{when}. Written by {latest.person.shown_name}, {at}{hands and f'; {hands}'}.{paper}"


def _signed(written: RecordAsWritten) -> tuple[str, ...]:
    """Who put a name to which version, and whether that is the one on this sheet."""
    record, latest = written.record, written.latest
    signature = written.signature
    if signature is None:
        return (NOT_SIGNED,) if record.state == State.WAITING else ()
    changed = written.no_longer_signed
    if changed is not None:
        return (signatures.changed_in_words(record, latest, changed),)
    return (signatures.signed_in_words(signature),)


def _signatories(written: RecordAsWritten) -> tuple[Signatory, ...]:
    signature = written.signature
    if signature is None or written.no_longer_signed is not None:
        # Nobody has put a name to what stands on this sheet.
        return MEASURED_CHECKED_MANAGER
    checked = Signatory("Checked by", signature.person.shown_name)
    return (MEASURED_CHECKED_MANAGER[0], checked, MEASURED_CHECKED_MANAGER[2])


def _section(written: RecordAsWritten, section: Section) -> RecordSection | None:
    items = []
    for field in section.fields:
        typed = written.typed.get(field.name, "")
        change = written.change_of(field.name)
        if typed or change:
            items.append(
                Item(
                    field.label,
                    as_text(field, typed) if typed else "struck",
                    unit_of(field, typed) if typed else "",
                    change.old if change else "",
                    change.mark if change else "",
                )
            )
    return RecordSection(section.heading, tuple(items)) if items else None


def _lines(written: RecordAsWritten) -> RecordSection | None:
    rows = written.sheet.rows
    if rows is None or not written.rows:
        return None
    fields = [one for one in written.sheet.row_fields if any(line.get(one.name) for line in written.rows)]
    columns = tuple(
        figure_column(one.label, unit=unit_of(one)) if is_figure(one) else Column(one.label, unit_of(one))
        for one in fields
    )
    cells = [
        tuple(_cell(written, field, line.get(field.name, ""), number) for field in fields)
        for number, line in enumerate(written.rows)
    ]
    return RecordSection(rows.heading, table=FigureTable(columns, cells))


def _cell(written: RecordAsWritten, field: Field, typed: str, row: int) -> Cell:
    change = written.change_of(field.name, row)
    text = as_text(field, typed) if typed else ""
    return Struck(change.old, text, change.mark) if change else text


def _readings(written: RecordAsWritten, readings: Sequence[Reading]) -> FigureTable | None:
    if not readings:
        return None
    quantities = [one for one in written.sheet.readings if any(each.quantity == one.name for each in readings)]
    brought = brought_to_20(written, list(readings))
    columns = (
        Column("Happened"),
        *(figure_column(one.label, unit=unit_of(one), missing="Not taken") for one in quantities),
        *(figure_column(f"{one.label} at 20 °C") for one in quantities if one.name in brought),
        Column("Written"),
        Column("By"),
    )
    times: dict[datetime, list[Reading]] = {}
    for reading in readings:
        times.setdefault(reading.at, []).append(reading)
    names = names_in(readings)
    rows: list[tuple[Cell, ...]] = []
    for at, together in times.items():
        last = max(together, key=lambda one: one.written_at)
        cells: list[Cell] = [
            _reading_cell([one for one in together if one.quantity == quantity.name]) for quantity in quantities
        ]
        cells += [written_at_20(brought[one.name].get(at)) for one in quantities if one.name in brought]
        rows.append(
            (figures.moment(at, year=True), *cells, figures.moment(last.written_at, year=True), writer_of(last, names))
        )
    return FigureTable(columns, rows)


def _reading_cell(readings: Sequence[Reading]) -> Cell:
    standing = ", ".join(one.value for one in readings if not is_struck(one) and one.value)
    struck = ", ".join(one.value for one in readings if is_struck(one) and one.value)
    if struck:
        return Struck(struck, standing or None)
    return standing or None


def _curve(written: RecordAsWritten, readings: Sequence[Reading]) -> RunCurve | None:
    chart = written.sheet.chart
    drawn = written.sheet.reading(chart.quantity) if chart is not None else None
    if chart is None or drawn is None:
        return None
    points = tuple(
        CurveReading(one.at, degrees(value) if chart.degrees else value)
        for one in readings
        if one.quantity == drawn.name and not is_struck(one) and (value := value_of(drawn, one.value)) is not None
    )
    if not points:
        return None
    return RunCurve(
        points,
        tuple(Cut(one.label, one.at, one.strength) for one in cuts_of(written) if one.strength is not None),
        quantity=drawn.label,
        unit="degrees at 20 °C" if chart.degrees else unit_of(drawn),
    )


def _links(links: Sequence[tuple[Record, RecordLink]]) -> tuple[LinkLine, ...]:
    return tuple(
        LinkLine(other.number, title_of(other.kind), pure or None, share)
        for other, pure, _, share in shares_of(links)
        if share is None or share >= LEAST_SHARE
    )
