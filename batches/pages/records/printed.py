"""A record on paper.

Values print as they were typed; a value that was put right prints with a line through it and a footnote.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from batches.models import Link as RecordLink
from batches.models import Reading, Record, State
from batches.pages.papers.along_the_way import readings_curve, readings_table
from batches.pages.papers.run_sheet import is_run, run_layout
from batches.pages.papers.taken_back import enquiries_of, taken_back
from batches.pages.records.links import LEAST_SHARE, shares_of
from batches.pages.records.measured import ALCOHOL, NOT_READ, lines_table, measured_on_lines
from batches.pages.records.posted import books_of
from batches.pages.records.printed_books import (
    difference_section,
    duty_section,
    gauges_section,
    movements_section,
    standing_of,
)
from batches.pages.records.readings import (
    readings_of,
    struck_readings,
)
from batches.pages.records.shown import (
    RecordAsWritten,
    as_text,
    title_of,
    unit_of,
)
from batches.pages.results import as_it_stands, as_sections, pictures_of, results_of
from batches.pages.running.course import course_of
from batches.records import signatures
from batches.sheets.sheet import Section
from batches.sheets.site import Site
from distillery import figures
from distillery.printing.blocks import Item, Note
from distillery.printing.documents.record_sheet import (
    Correction,
    LinkLine,
    RecordSection,
    RecordSheet,
    WorkedOutAnew,
    record_sheet_pdf,
)
from distillery.printing.drawn.picture import Picture
from distillery.printing.house import impression, site
from distillery.printing.signing import MEASURED_CHECKED_MANAGER, Signatory
from distillery.printing.tabled.columns import figure_column
from distillery.printing.tabled.paged import bare_table
from distillery.printing.tabled.tables import FigureTable, summed

NOT_SIGNED = "It waits for a second person and is not in the books."


def record_pdf(written: RecordAsWritten, *, printed_at: datetime, printed_by: str) -> bytes:
    """The printed record."""
    return record_sheet_pdf(record_sheet(written), impression(printed_at, printed_by))


def record_sheet(written: RecordAsWritten) -> RecordSheet:
    """The record as the printing room takes it."""
    record, sheet = written.record, written.sheet
    readings = readings_of(written) if sheet.readings else []
    standing = standing_of(written)
    taken = [(one.giver, one) for one in RecordLink.objects.filter(taker=record).select_related("giver")]
    given = [(one.taker, one) for one in RecordLink.objects.filter(giver=record).select_related("taker")]
    of_run = is_run(sheet)
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
        readings=readings_table(written, readings, brief=of_run),
        curve=readings_curve(written, readings),
        made_from=_links(taken),
        went_into=_links(given),
        corrections=_corrections(written, readings),
        notes=tuple(Note(str(place), f"{one.label}: {one.sentence}") for place, one in enumerate(written.remarks, 1)),
        version=written.latest.serial,
        landscape=bool(sheet.rows),
        signatories=_signatories(written),
        anew=None if of_run else lambda: _worked_out(written, readings),
        run=run_layout(written, readings, taken, given) if of_run else None,
        said=taken_back(record),
        enquiries=enquiries_of(record),
    )


def _corrections(written: RecordAsWritten, readings: Sequence[Reading]) -> tuple[Correction, ...]:
    """What was put right on the sheet, and the readings along the way that were struck."""
    on_sheet = [
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
    ]
    along = [
        Correction(
            mark,
            f"{_label_of(written, struck.quantity)}, {figures.moment(struck.at, year=True)}",
            struck.value,
            by.value,
            by.person.shown_name,
            by.written_at,
            by.reason,
        )
        for mark, struck, by in struck_readings(written, list(readings))
    ]
    return (*on_sheet, *along)


def _label_of(written: RecordAsWritten, quantity: str) -> str:
    declared = written.sheet.reading(quantity)
    return declared.label if declared is not None else quantity


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
    """The repeating lines, each with litres, strength and pure alcohol where it was measured."""
    if written.sheet.rows is None or not written.rows:
        return None
    measured = books_of(written.record, written.sheet, Site()).measured
    table = lines_table(written, measured)
    if table is None:
        return None
    alcohol = [None if one is None else one.pure_ul for one in measured_on_lines(written, measured)]
    return RecordSection(table.caption, table=_added_up(bare_table(table), alcohol))


def _added_up(lines: FigureTable, alcohol: Sequence[int | None]) -> FigureTable:
    """Lines with their pure alcohol, in whole microlitres, carried forward and added up."""
    labels = [column.label for column in lines.columns]
    if ALCOHOL.label not in labels[1:]:
        return lines
    place = labels.index(ALCOHOL.label)
    column = figure_column(ALCOHOL.label, figures.lpa, unit=ALCOHOL.unit, carried=True, missing=NOT_READ)
    columns = (*lines.columns[:place], column, *lines.columns[place + 1 :])
    rows = [(*row[:place], pure, *row[place + 1 :]) for row, pure in zip(lines.rows, alcohol, strict=True)]
    return replace(lines, columns=columns, rows=rows, total=summed("Total", columns, rows))


def _links(links: Sequence[tuple[Record, RecordLink]]) -> tuple[LinkLine, ...]:
    return tuple(
        LinkLine(other.number, title_of(other.kind), pure or None, share)
        for other, pure, _, share in shares_of(links)
        if share is None or share >= LEAST_SHARE
    )
