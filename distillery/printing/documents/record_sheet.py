"""The printed record of one piece of work: what it is, what was read, what was put right, where it came from and went.

The sheet is declared by whoever keeps the record; this module only sets it out. A struck value prints with its
line and the letter of a footnote that says who changed it, when and why.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

from distillery import figures
from distillery.printing.balance import BalanceRow, balance_table
from distillery.printing.beside import Beside
from distillery.printing.blocks import Block, Caution, Heading, Item, ItemList, Note, Notes, Paragraph
from distillery.printing.digest import digest_of, digest_sentence, digest_statement, plain_data
from distillery.printing.document import Part, laid, print_document
from distillery.printing.documents.run_sheet import SETTINGS, RunLayout, Setting, run_blocks, small_print
from distillery.printing.drawn.curve import RunCurve
from distillery.printing.drawn.picture import Picture
from distillery.printing.furniture import Furniture, Impression, Site
from distillery.printing.signing import MEASURED_CHECKED_MANAGER, Signatory, Signatures, SignLines
from distillery.printing.tabled.cells import Cell
from distillery.printing.tabled.columns import Column, figure_column
from distillery.printing.tabled.tables import FigureTable

# Of a wide sheet with the curve beside the readings; the readings have more columns than the curve has hours.
READINGS_SHARE = 0.58
NOT_IN_THE_DIGEST = "Worked out as this was printed, with what other records say; no part of the digest."


@dataclass(frozen=True, slots=True)
class RecordSection:
    """A heading with labelled values, a table, a curve, or several of these in that order."""

    heading: str
    rows: tuple[Item, ...] = ()
    table: FigureTable | None = None
    curve: RunCurve | None = None


@dataclass(frozen=True, slots=True)
class LinkLine:
    """A record this one is joined to, how much pure alcohol passed, and its share of the whole (0 to 1)."""

    number: str
    what: str
    pure_ul: int | None = None
    share: float | None = None


@dataclass(frozen=True, slots=True)
class Correction:
    """A value put right after it was written: the footnote behind its letter."""

    mark: str
    field: str
    old: str
    new: str
    by: str
    at: datetime
    why: str

    def note(self) -> Note:
        when = figures.moment(self.at, year=True)
        now = f"now {self.new}" if self.new else "nothing put in its place"
        return Note(self.mark, f"{self.field}: {self.old} struck, {now}; {self.by}, {when}: {self.why}")


@dataclass(frozen=True, slots=True)
class WorkedOutAnew:
    """What is worked out when a record is printed, other records having a share in it. `course` stands in the place
    of the curve, `pictures` below the readings."""

    sections: tuple[RecordSection, ...] = ()
    course: Picture | None = None
    pictures: tuple[Picture, ...] = ()


@dataclass(frozen=True, slots=True)
class RecordSheet:
    """One record as it is to be printed. Parts that are empty are left out, but for links and corrections, which
    say that there are none. `run` is how a run stands on its one page, `said` what the books say of movements taken
    back. What `anew` gives is no part of the digest, since it may change with what others come to; nor are `enquiries`,
    which say how each stands as this is printed."""

    site: Site
    title: str
    number: str
    subtitle: tuple[str, ...] = ()
    sections: tuple[RecordSection, ...] = ()
    readings: FigureTable | None = None
    curve: RunCurve | None = None
    balance: tuple[BalanceRow, ...] = ()
    made_from: tuple[LinkLine, ...] = ()
    went_into: tuple[LinkLine, ...] = ()
    corrections: tuple[Correction, ...] = ()
    notes: tuple[Note, ...] = ()
    caution: str = ""
    version: int = 1
    landscape: bool = False
    signatories: tuple[Signatory, ...] = MEASURED_CHECKED_MANAGER
    anew: Callable[[], WorkedOutAnew] | None = None
    run: RunLayout | None = None
    said: tuple[str, ...] = ()
    enquiries: tuple[str, ...] = ()


def record_digest(sheet: RecordSheet) -> str:
    """The digest of a record on paper. What a sheet does not have is no part of it."""
    plain = plain_data(sheet)
    assert isinstance(plain, dict)
    del plain["enquiries"]
    return digest_of({name: part for name, part in plain.items() if name not in ("run", "said") or part})


def record_sheet_pdf(sheet: RecordSheet, impression: Impression) -> bytes:
    """The printed record. Raises TableError or StripTooTallError where something cannot be put on the paper."""
    return print_document([record_part(sheet, impression)])


def record_part(sheet: RecordSheet, impression: Impression) -> Part:
    """The record as one part of a bundle, its pages still to be counted."""
    digest = record_digest(sheet)
    furniture = Furniture(sheet.site, sheet.title, sheet.number, sheet.version, impression, digest)
    if sheet.run is not None:
        return _run_part(sheet, sheet.run, furniture)
    blocks: list[Block] = [Paragraph(line, space_above=0.0) for line in sheet.subtitle]
    if sheet.caution:
        blocks.append(Caution(sheet.caution))
    anew = sheet.anew() if sheet.anew is not None else WorkedOutAnew()
    for section in (*sheet.sections, *anew.sections):
        blocks += _section(section, 3 if sheet.landscape else 2)
    if anew.sections:
        blocks.append(Paragraph(NOT_IN_THE_DIGEST, small=True, space_above=2.0))
    blocks += _readings(sheet, anew.course)
    blocks += anew.pictures
    if sheet.balance:
        blocks += [Heading("Balance"), balance_table(sheet.balance)]
    made_from = _links("Made from", sheet.made_from, "No record before this one.")
    went_into = _links("Went into", sheet.went_into, "No record after this one.")
    blocks += [Beside(made_from, went_into)] if sheet.landscape else [*made_from, *went_into]
    blocks += _footnotes("Corrections", [correction.note() for correction in sheet.corrections], "None.")
    blocks += _footnotes("Notes", sheet.notes)
    besides = (*sheet.said, *sheet.enquiries)
    if besides:
        blocks += [Heading("In the books besides"), *(Paragraph(sentence) for sentence in besides)]
    return Part(furniture, [*blocks, digest_statement(digest), Signatures(sheet.signatories)], sheet.landscape)


def _run_part(sheet: RecordSheet, run: RunLayout, furniture: Furniture) -> Part:
    """A run as large as it fits one page."""
    for setting in SETTINGS:
        part = Part(furniture, _on_one_page(sheet, run, furniture.digest, setting), landscape=True)
        if len(laid(part).pages) == 1:
            break
    return part


def _on_one_page(sheet: RecordSheet, run: RunLayout, digest: str, setting: Setting) -> list[Block]:
    corrections = [f"{one.mark}  {one.text}" for one in (each.note() for each in sheet.corrections)]
    said = [*run.said, *sheet.said, *sheet.enquiries, *([] if corrections else ["Corrections: none."])]
    notes = "   ".join(f"{note.mark}  {note.text}" for note in sheet.notes)
    return [
        *small_print([" ".join(sheet.subtitle)], setting),
        *run_blocks(run, sheet.readings, sheet.curve, setting),
        *small_print([" ".join(said), "   ".join(corrections), notes], setting),
        *small_print([digest_sentence(digest)], setting, stays=True),
        SignLines(sheet.signatories),
    ]


def _readings(sheet: RecordSheet, course: Picture | None) -> list[Block]:
    if course is not None:
        return [*_section(RecordSection("Readings", table=sheet.readings), 2), course]
    if not (sheet.readings or sheet.curve):
        return []
    if sheet.landscape and sheet.readings and sheet.curve:
        return [Heading("Readings"), Beside([sheet.readings], [sheet.curve], READINGS_SHARE)]
    return _section(RecordSection("Readings", table=sheet.readings, curve=sheet.curve), 2)


def _section(section: RecordSection, across: int) -> list[Block]:
    blocks: list[Block] = [Heading(section.heading)]
    if section.rows:
        blocks.append(ItemList(section.rows, across))
    if section.table:
        blocks.append(section.table)
    if section.curve:
        blocks.append(section.curve)
    return blocks


def _links(heading: str, links: Sequence[LinkLine], none: str) -> list[Block]:
    columns = (
        Column("Record"),
        Column("What"),
        figure_column("Pure alcohol", figures.lpa, unit="LPA"),
        figure_column("Share", unit="%"),
    )
    rows: list[tuple[Cell, ...]] = [
        (link.number, link.what, link.pure_ul, None if link.share is None else figures.percent(link.share * 100))
        for link in links
    ]
    return [Heading(heading), FigureTable(columns, rows, none=none)]


def _footnotes(heading: str, notes: Sequence[Note], none: str = "") -> list[Block]:
    if notes:
        return [Heading(heading), Notes(tuple(notes))]
    return [Heading(heading), Paragraph(none)] if none else []
