"""Makes a bundle in a folder: the document, its tables, what its digests are taken over, the ledger, the verifier.

Everything is written into a folder beside the one that was asked for, which gets its name only when all of it is there:
a bundle that could not be finished leaves nothing.
"""

from __future__ import annotations

import csv
import hashlib
import json
import shutil
import zlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from io import StringIO
from pathlib import Path
from typing import Final

from django.utils.text import slugify

from batches.pages.bundle.beside import made_beside
from batches.pages.bundle.entered import enter_bundle, next_copy, version_of
from batches.pages.bundle.months import Months
from batches.pages.bundle.parts import Parts
from batches.pages.bundle.words import TITLE, Line, checking, contents, how_to_read
from distillery import tables_out
from distillery.people.models import Person
from distillery.printing.as_lines import lines_of
from distillery.printing.digest import plain_data
from distillery.printing.document import LaidPart, Part, laid, numbered, write_laid
from distillery.printing.furniture import grouped
from distillery.printing.house import impression
from distillery.printing.noting import Notes, as_text, noted
from distillery.prints.counting import bound
from distillery.seals.lookup import foot_line
from ledger.proof.exporting import VERIFIER, Export, FolderNotEmpty

PAPER: Final = "bundle.pdf"
DOCUMENTS: Final = "documents.jsonl"
PAGES: Final = "pages.csv"
TABLES: Final = "documents"
PAGE_VERIFIER: Final = VERIFIER.with_name("verify_pages.py")
MOST_TRIES: Final = 3
PAGE_HEADS: Final = ("page", "document", "title", "number", "digest", "at_foot", "tables")
SAID: Final = f"""
Records for a visit
-------------------
{PAPER} is the document that is handed over. {DOCUMENTS} has one JSON object a line for each document in it:
"document" (its place from 1), "title", "number", "digest", "content", "tables" (its file in the folder {TABLES})
and "tables_digest" (SHA-256 over the bytes of that file). "digest" is the SHA-256 digest of "content" written as
JSON on one line: members sorted by name, "," and ":" without spaces, UTF-8, nothing escaped that need not be.
Amounts ending in _ul are whole microlitres of pure alcohol at 20 °C.

{PAGES} says for each page of the document which digest belongs to it; "at_foot" is how it is printed. "content" of
the last document lists the digests of all before it and of their tables, their pages, and the last seal of the
ledger. The tables have the figures as they are printed; the first column says what a line is.

verify_export.py checks all of this too, with {PAGE_VERIFIER.name} beside it.
"""

Told = Callable[[str, int, int], None]


@dataclass(frozen=True, slots=True)
class Made:
    """What was made: pages and documents of the paper, movements of the ledger, and the digest on the last page."""

    pages: int
    documents: int
    movements: int
    digest: str


def make_bundle(
    months: Months, folder: Path, *, printed_at: datetime, printed_by: str, told: Told, person: Person | None = None
) -> Made:
    """Writes the bundle into a folder that is empty or not there yet, and enters its documents in the register of
    prints in the name of `person`. Raises FolderNotEmpty, OSError."""
    if folder.exists() and any(folder.iterdir()):
        raise FolderNotEmpty(f"{folder} is not empty; name a new folder, so that no bundle is mixed with another.")
    with made_beside(folder) as beside:
        bundle = _Bundle(months, beside, printed_at, printed_by, told)
        made = bundle.write()
    enter_bundle(months, bundle.printed, bundle.copy, named=bundle.named, person=person)
    return made


@dataclass(frozen=True, slots=True)
class _Packed:
    """What a document is in the files, packed (zlib, RFC 1950): a year of documents is too much to hold open."""

    content: bytes
    tables: bytes


class _Bundle:
    def __init__(self, months: Months, folder: Path, printed_at: datetime, printed_by: str, told: Told) -> None:
        self._months = months
        self._folder = folder
        self._printed = printed_at, printed_by
        self.copy = next_copy(TITLE, months.bundle_number)
        self.printed: list[tuple[Part, bool]] = []
        # Of each document by its digest: the digests of its named parts.
        self.named: dict[str, Mapping[str, str]] = {}
        self._printing = replace(impression(printed_at, printed_by), copy=self.copy)
        self._told = told
        self._of = 0
        self._version = 0

    def write(self) -> Made:
        export, parts, months, went_on = self._as_the_books_stand()
        self._told("Writing the ledger", self._of, self._of)
        export.write(self._folder)
        with (self._folder / "README.txt").open("a", encoding="utf-8") as readme:
            readme.write(SAID)
        shutil.copyfile(PAGE_VERIFIER, self._folder / PAGE_VERIFIER.name)
        (self._folder / TABLES).mkdir()
        self._version = version_of(self._months, TITLE, [part.part.furniture.digest for part in parts[1:]])
        lines, pages = self._with_contents(parts, months)
        tables = [self._tables(part.part, place) for place, part in enumerate(parts, 1)]
        data = self._of_all(lines, tables, export.head.last_seal)
        last = laid(self._versioned(checking(self._months, lines, data, self._printing, went_on=went_on)))
        lines.append(_line(last.part, len(lines) + 1, "", pages + 1, pages + len(last.pages)))
        parts.append(last)
        tables.append(self._tables(last.part, len(parts)))
        with (self._folder / PAPER).open("wb") as file:
            write_laid(parts, file, lambda page, of: self._told(f"Page {page} of {of}", self._of, self._of))
        # The first lists the pages of all, the last their digests.
        self.printed = [(part.part, 0 < place < len(parts) - 1) for place, part in enumerate(parts)]
        self._documents(parts, lines, tables)
        self._pages(lines, tables)
        return Made(lines[-1].last, len(lines), export.head.last_number, lines[-1].digest)

    def _with_contents(self, parts: list[LaidPart], months: Sequence[str]) -> tuple[list[Line], int]:
        """Puts the list of all parts at their head; gives their lines and the number of the last page so far."""
        unnumbered = self._versioned(checking(self._months, (), {}, self._printing, went_on=False))
        while True:
            lines, pages = _placed(parts, months)
            # Before its digest is known the last document is listed by its title and its first page.
            after = _line(unnumbered, 0, "", pages + 1, pages + 1)
            first = laid(self._versioned(contents(self._months, [*lines[1:], after], self._printing)))
            as_placed = len(first.pages) == len(parts[0].pages)
            parts[0] = first
            if as_placed:
                lines[0] = _line(first.part, 1, "", 1, len(first.pages))
                return lines, pages

    def _versioned(self, part: Part) -> Part:
        """A document about the bundle itself bears the bundle's version."""
        return replace(part, furniture=replace(part.furniture, version=self._version))

    def _as_the_books_stand(self) -> tuple[Export, list[LaidPart], list[str], bool]:
        """The ledger and the parts but the last, with the month each is of; and whether somebody wrote meanwhile.

        What is found in the figures is kept as it is read, so this cannot be one question of the database: where
        somebody wrote meanwhile it is done anew, a few times.
        """
        for _ in range(MOST_TRIES):
            # The seal at the foot is that of all that was ever written.
            self._printing = replace(impression(*self._printed), copy=self.copy)
            export = Export()
            parts, months = self._laid_out()
            if foot_line() == self._printing.seal_line:
                return export, parts, months, False
        return export, parts, months, True

    def _laid_out(self) -> tuple[list[LaidPart], list[str]]:
        """The parts but the last, and the month each is of. The first holds the place of the contents."""
        months = ["", ""]
        wanted = Parts(self._months, self._printing)
        self._of = wanted.number
        with noted(numbers=bound(self.copy)) as notes:
            parts = [self._numbered(how_to_read(self._months, self._printing), notes)]
            for place, (month, part) in enumerate(wanted.made(), 1):
                self._told(f"{part.furniture.title} {part.furniture.number}, {place} of {self._of}", place, self._of)
                months.append(month)
                parts.append(self._numbered(part, notes))
        # The list of their pages comes first; it has its true length once the pages are known.
        return [laid(contents(self._months, (), self._printing)), *parts], months

    def _numbered(self, part: Part, notes: Notes) -> LaidPart:
        """The part laid out as the version that the register of prints says it is by itself; its parts are kept for it,
        and what it is made of goes into the pack."""
        [one] = numbered(part)
        self.named |= {sheet.digest: sheet.parts for sheet in notes.sheets}
        notes.clear()
        packed = _Packed(zlib.compress(as_text(plain_data(one.data)).encode()), zlib.compress(_as_csv(one)))
        return replace(laid(one), part=replace(one, blocks=(), data=packed))

    def _tables(self, part: Part, place: int) -> tuple[str, str]:
        """Writes what a document prints as text; gives the file's name and the digest of its bytes."""
        named = slugify(f"{part.furniture.title} {part.furniture.number}")
        name = f"{TABLES}/{place:03d}-{named}.csv"
        held = zlib.decompress(part.data.tables) if isinstance(part.data, _Packed) else _as_csv(part)
        (self._folder / name).write_bytes(held)
        return name, hashlib.sha256(held).hexdigest()

    def _of_all(self, lines: Sequence[Line], tables: Sequence[tuple[str, str]], seal: str) -> dict[str, object]:
        return {
            "months": [span.code for span in self._months.spans],
            "last_seal": seal,
            "documents": [
                [one.place, one.title, one.number, one.digest, one.first, one.last, digest]
                for one, (_, digest) in zip(lines, tables, strict=True)
            ],
        }

    def _documents(self, parts: Sequence[LaidPart], lines: Sequence[Line], tables: Sequence[tuple[str, str]]) -> None:
        with (self._folder / DOCUMENTS).open("w", encoding="utf-8", newline="\n") as file:
            for part, line, (name, digest) in zip(parts, lines, tables, strict=True):
                said = {
                    "document": line.place,
                    "title": line.title,
                    "number": line.number,
                    "digest": line.digest,
                    "content": _content(part.part),
                    "tables": name,
                    "tables_digest": digest,
                }
                file.write(json.dumps(said, ensure_ascii=False, sort_keys=True, separators=(",", ":")) + "\n")

    def _pages(self, lines: Sequence[Line], tables: Sequence[tuple[str, str]]) -> None:
        with (self._folder / PAGES).open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file)
            writer.writerow(PAGE_HEADS)
            for line, (name, _) in zip(lines, tables, strict=True):
                for page in range(line.first, line.last + 1):
                    row = (page, line.place, line.title, line.number, line.digest, grouped(line.digest), name)
                    writer.writerow(tables_out.row(row))


def _as_csv(part: Part) -> bytes:
    """What a document prints as text."""
    text = StringIO()
    csv.writer(text).writerows(tables_out.row(line) for line in lines_of(part.blocks))
    return text.getvalue().encode()


def _content(part: Part) -> object:
    """What the digest of a document was taken over, as plain data."""
    if isinstance(part.data, _Packed):
        return json.loads(zlib.decompress(part.data.content))
    return plain_data(part.data)


def _placed(parts: Sequence[LaidPart], months: Sequence[str]) -> tuple[list[Line], int]:
    """The documents with their pages, and the number of the last page so far."""
    lines: list[Line] = []
    page = 0
    for place, (part, of) in enumerate(zip(parts, months, strict=True), 1):
        lines.append(_line(part.part, place, of, page + 1, page + len(part.pages)))
        page += len(part.pages)
    return lines, page


def _line(part: Part, place: int, of: str, first: int, last: int) -> Line:
    return Line(place, of, part.furniture.title, part.furniture.numbered, part.furniture.digest, first, last)
