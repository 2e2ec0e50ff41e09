"""The rows of a workbook as the tables of a month's folder, each row under the number it has on its sheet."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any, Final

from batches.loading.tables import BadRow, Line, Table
from batches.loading.workbook.cells import UnfitCell, text_of
from batches.loading.workbook.opening import UnfitWorkbook
from batches.loading.workbook.sheets import (
    CASKS,
    EXAMPLE,
    FIRST_ROW,
    HOW,
    INSTRUMENTS,
    MARK,
    OF_FILE,
    SHEETS,
    VESSELS,
    Column,
    WorkbookSheet,
)
from batches.sheets.sheet import Kind
from batches.sheets.typed.moments import Unreadable
from batches.sheets.typed.parsing import read

# Ten thousand casks with forty vessels' tables are under 20,000; beyond this memory would grow without bound.
MOST_ROWS: Final = 50_000
# The last row a sheet can have (ECMA-376, part 1, 18.3.1.73, from memory); what says more is broken.
LAST_ROW: Final = 1_048_576
MOST_COLUMNS: Final = 60
FULL, EMPTY = CASKS.files
_LISTS: Final = (VESSELS, CASKS, INSTRUMENTS)
_SIZE_OF_EMPTY: Final = "litres"
_OF_FULL: Final = ("filled_at", "gross_kg", "percent")
# Before the name of a sheet, where a problem is with no table; before a letter, where it is with no column of one.
SHEET, LETTER = "sheet:", "@"
_BY_ITSELF: Final = frozenset({Kind.NUMBER, Kind.WHOLE, Kind.MOMENT, Kind.CHOICE, Kind.TEXT})


@dataclass(slots=True)
class WorkbookSource:
    """A workbook as the source of a load. `bad` is what could not be read of it, `there` how often the loader met a row
    that the site has."""

    is_a_month: bool = False
    tables: dict[str, Table] = field(default_factory=dict)
    bad: list[BadRow] = field(default_factory=list)
    # By file and column: the letter it stands under.
    letters: dict[tuple[str, str], str] = field(default_factory=dict)
    there: dict[tuple[str, int], int] = field(default_factory=dict)
    # Codes of what rows list that are not handed on, small letters.
    unlisted: set[str] = field(default_factory=set)

    def table(self, file: str, *, known: Collection[str], needed: Collection[str], bad: list[BadRow]) -> Table | None:
        """As `Source`; what is wrong with the sheet was said when it was read."""
        return self.tables.get(file)

    def has(self, file: str) -> bool:
        """As `Source`."""
        return file in self.tables

    def logs(self) -> Iterable[str]:
        """None by itself: sheets that have no place are said as they are read."""
        return ()

    def called(self, file: str, column: str) -> str:
        """The label of a column, small."""
        sheet = OF_FILE.get(file)
        found = sheet.column("nominal_litres" if column == _SIZE_OF_EMPTY else column) if sheet is not None else None
        return found.field.label.lower() if found is not None else column

    def note_there(self, file: str, row: int) -> None:
        """Notes that the site has what this row says."""
        self.there[file, row] = self.there.get((file, row), 0) + 1

    def place_of(self, bad: BadRow) -> tuple[str, str]:
        """The sheet and the cell of a problem."""
        row = max(1, bad.row)
        if bad.file.startswith(SHEET):
            return bad.file.removeprefix(SHEET), f"{bad.column.removeprefix(LETTER) or 'A'}{row}"
        sheet = OF_FILE.get(bad.file)
        if sheet is None:
            return "", ""
        column = "nominal_litres" if bad.file == EMPTY and bad.column == _SIZE_OF_EMPTY else bad.column
        if column.startswith(LETTER):
            return sheet.title, f"{column.removeprefix(LETTER)}{row}"
        letter = self.letters.get((sheet.title, column)) or self.letters.get((sheet.title, sheet.known_by[0])) or "A"
        return sheet.title, f"{letter}{row}"

    def here(self, file: str, column: str) -> str:
        """What a column of a sheet is called in one of its tables."""
        return _SIZE_OF_EMPTY if file == EMPTY and column == "nominal_litres" else column

    def is_missing(self, bad: BadRow) -> bool:
        """True for a problem with a column whose head is missing, which was said with the heads."""
        sheet = OF_FILE.get(bad.file)
        column = "nominal_litres" if bad.file == EMPTY and bad.column == _SIZE_OF_EMPTY else bad.column
        known = sheet is not None and sheet.column(column) is not None
        return known and sheet is not None and (sheet.title, column) not in self.letters

    def cell_of(self, bad: BadRow) -> str:
        """What stands in the cell of a problem."""
        table = self.tables.get(bad.file)
        return next((one.cells.get(bad.column, "") for one in table.lines if one.row == bad.row), "") if table else ""


def read_workbook(book: Any, say: Callable[[str], None] = lambda line: None) -> WorkbookSource:
    """Reads every sheet. What cannot be read is in `bad` of what comes back. Raises UnfitWorkbook."""
    source = WorkbookSource()
    known = {sheet.title.casefold(): sheet for sheet in SHEETS}
    seen: set[str] = set()
    for page in book.worksheets:
        title = " ".join(str(page.title).split())
        sheet = known.get(title.casefold())
        if sheet is not None:
            say(f"Reading {sheet.title}")
            seen.add(sheet.title)
            _Page(page, sheet, source).read()
        elif title.casefold() != HOW.casefold():
            titles = ", ".join(one.title for one in SHEETS)
            said = f"There is no place for a sheet '{title[:40]}'. Rename it to one of: {titles}; or take it out."
            source.bad.append(BadRow(f"{SHEET}{title}", 1, "", said))
    if not seen and not source.bad:
        raise UnfitWorkbook("The workbook has none of the sheets that are read. Begin with the empty workbook.")
    return source


class _Page:
    """One sheet as it is read."""

    def __init__(self, page: Any, sheet: WorkbookSheet, source: WorkbookSource) -> None:
        self.page, self.sheet, self.source = page, sheet, source
        self.file = sheet.files[0]
        self.columns: dict[int, Column] = {}
        self.mark: int | None = None
        self.known: dict[tuple[str, ...], int] = {}
        self.lines: dict[str, list[Line]] = {file: [] for file in sheet.files}
        self.loose: set[int] = set()

    def read(self) -> None:
        """Adds what the sheet holds to the source."""
        count = 0
        for number, row in enumerate(self._rows(), start=1):
            if number > LAST_ROW:
                break
            if number < FIRST_ROW:
                self._heads(row)
                continue
            if not any(cell.value not in (None, "") for cell in row):
                continue
            count += 1
            if count > MOST_ROWS:
                self._say(number, "", f"The sheet has more than {MOST_ROWS:,} rows. Bring the rest in afterwards.")
                break
            self._row(number, row)
        columns = tuple(column.name for column in self.columns.values())
        for file, lines in self.lines.items():
            if lines or file == self.file:
                here = tuple(_SIZE_OF_EMPTY if file == EMPTY and one == "nominal_litres" else one for one in columns)
                self.source.tables[file] = Table(file, here, tuple(lines))

    def _rows(self) -> Iterator[tuple[Any, ...]]:
        # What the sheet says of its own size may be wrong.
        self.page.reset_dimensions()
        try:
            yield from self.page.iter_rows(max_col=MOST_COLUMNS)
        except Exception as error:
            # The library stumbles over broken parts in many ways; how many rows came before is all that is known.
            said = "The sheet cannot be read to its end. Copy its cells into the empty workbook."
            self.source.bad.append(BadRow(f"{SHEET}{self.sheet.title}", 1, "", said))
            del error

    def _say(self, row: int, column: str, sentence: str) -> None:
        self.source.bad.append(BadRow(self.file, row, column, sentence))

    def _heads(self, row: tuple[Any, ...]) -> None:
        from openpyxl.utils import column_index_from_string

        wanted = {_plain(text): column for column in self.sheet.columns for text in (column.head, column.field.label)}
        unknown: list[tuple[str, str]] = []
        for place, cell in enumerate(row):
            letter = _letter(place)
            try:
                text = text_of(cell, None)
            except UnfitCell as error:
                self._say(1, f"{LETTER}{letter}", str(error))
                continue
            if not text:
                continue
            column = wanted.get(_plain(text))
            if _plain(text) == _plain(MARK):
                self.mark = place
            elif column is None:
                unknown.append((letter, text))
            elif column in self.columns.values():
                self._say(1, f"{LETTER}{letter}", f"The head '{column.head}' stands here a second time.")
            else:
                self.columns[place] = column
                self.source.letters[self.sheet.title, column.name] = letter
        missing = [one for one in self.sheet.columns if one not in self.columns.values()]
        # What stands under a head that is not known was said with the head.
        self.loose |= {column_index_from_string(letter) - 1 for letter, _ in unknown}
        for letter, text in unknown:
            said = ", ".join(one.head for one in missing)
            meant = f" Still without a column: {said}." if said else ""
            self._say(1, f"{LETTER}{letter}", f"There is no column '{text[:40]}' on this sheet.{meant}")
        for one in missing:
            if not one.may_be_blank:
                self._say(1, f"{LETTER}A", f"The head '{one.head}' is missing.")

    def _row(self, number: int, row: tuple[Any, ...]) -> None:
        if self._is_example(number, row):
            return
        cells: dict[str, str] = {}
        spoilt: set[str] = set()
        for place, cell in enumerate(row):
            column = self.columns.get(place)
            if place == self.mark or cell.value is None:
                continue
            name = column.name if column is not None else f"{LETTER}{_letter(place)}"
            try:
                text = text_of(cell, column)
            except UnfitCell as error:
                self._say(number, name, str(error))
                spoilt.add(name)
                continue
            if column is None and text and place not in self.loose:
                self.loose.add(place)
                self._say(number, name, "This cell stands under no head. Clear it, or write the head.")
            elif column is not None and text:
                cells[name] = text
        line = Line(number, cells)
        first = self._first_like(line)
        if spoilt or first:
            if first:
                said = f"{self._key(line)} stands on row {first} already; each stands once."
                self._say(number, self.sheet.known_by[0], said)
            self._by_itself(line, spoilt)
            code = line.cells.get(self.sheet.known_by[0], "").casefold()
            if code and not first and self.sheet in _LISTS:
                self.source.unlisted.add(code)
            return
        self._put(line)

    def _put(self, line: Line) -> None:
        if self.sheet is not CASKS or any(name in line.cells for name in _OF_FULL):
            self.lines[self.file].append(line)
            return
        if "tare_kg" in line.cells:
            said = "A tare alone is not kept: an empty cask is weighed as it is filled. Leave it blank."
            self._say(line.row, "tare_kg", said)
        cells = {_SIZE_OF_EMPTY if name == "nominal_litres" else name: cell for name, cell in line.cells.items()}
        cells.pop("tare_kg", None)
        self.lines[EMPTY].append(Line(line.row, cells))

    def _is_example(self, number: int, row: tuple[Any, ...]) -> bool:
        if self.mark is None or self.mark >= len(row):
            return False
        try:
            text = text_of(row[self.mark], None).casefold()
        except UnfitCell as error:
            self._say(number, f"{LETTER}{_letter(self.mark)}", str(error))
            return False
        if text and text != EXAMPLE:
            said = f"Only '{EXAMPLE}' can stand under {MARK}, for a row that is not to be read."
            self._say(number, f"{LETTER}{_letter(self.mark)}", said)
        return text == EXAMPLE

    def _first_like(self, line: Line) -> int:
        """The row before that is of the same; 0 where this is the first, or does not say what it is."""
        named = [line.cells.get(name, "").casefold() for name in self.sheet.known_by]
        if not named[0]:
            return 0
        first = self.known.setdefault(tuple(named), line.row)
        return first if first != line.row else 0

    def _key(self, line: Line) -> str:
        return ", ".join(line.cells[name] for name in self.sheet.known_by if name in line.cells)

    def _by_itself(self, line: Line, spoilt: Collection[str]) -> None:
        """What else is wrong with a row that is not handed on."""
        for column in self.columns.values():
            name, one = column.name, column.field
            if name in spoilt:
                continue
            if name not in line.cells:
                is_of_full = self.sheet is CASKS and name in (*_OF_FULL, "tare_kg")
                is_full = any(given in line.cells or given in spoilt for given in _OF_FULL)
                if not column.may_be_blank and (is_full or not is_of_full):
                    self._say(line.row, name, f"{one.label} is blank.")
            elif one.kind in _BY_ITSELF:
                try:
                    read(one, line.cells[name])
                except Unreadable as error:
                    self._say(line.row, name, str(error))


def _plain(text: str) -> str:
    return " ".join(text.casefold().split())


def _letter(place: int) -> str:
    from openpyxl.utils import get_column_letter

    letter: str = get_column_letter(place + 1)
    return letter
