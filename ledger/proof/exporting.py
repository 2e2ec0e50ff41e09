"""Hands the whole ledger out as files that anybody can read, add up and check without this program.

Comma-separated tables for people with a spreadsheet, one line of JSON for each movement in exactly the
form that was sealed, the verifier, and a page of text that says what every column is. Whole numbers as
the ledger keeps them: microlitres of pure alcohol at 20 °C, grams, hundredths of a penny.

Written as of the end of the chain at the start, file after file and in batches, so that memory does not grow
with the ledger and a movement posted meanwhile is left for the next export: what is sealed never changes.
"""

from __future__ import annotations

import csv
import zipfile
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any, cast

from django.db import models
from django.db.models import DateTimeField, Sum

from distillery import tables_out
from distillery.people.models import Person
from distillery.seals import exported as seals
from ledger.models import Account, Head, Leg, Movement
from ledger.periods import exported as closings
from ledger.proof.chain import rows_in_order, sealed_movements
from ledger.proof.export_readme import COLUMNS, readme
from ledger.proof.sealed_columns import PARTS, Part
from ledger.proof.sealing import Texts, moment_text

# Movements read at a time, and about how many characters are handed on at a time.
BATCH = 1000
CHUNK = 64 * 1024
VERIFIER = Path(__file__).parent.parent / "standalone" / "verify_export.py"


@dataclass(frozen=True, slots=True)
class Exported:
    """What an export wrote."""

    movements: int
    legs: int
    last_seal: str


class FolderNotEmpty(ValueError):
    """The folder for an export holds something already."""


@dataclass(frozen=True, slots=True)
class More:
    """A file that another room adds: its name, its lines up to a movement, and what README.txt says of it."""

    name: str
    lines: Callable[[int], Iterator[str]]
    said: str


# Added to by the floors above.
MORE: list[More] = [
    More(seals.SEALS, seals.seal_lines, seals.SEALS_HASHED),
    More(seals.TRAIL, seals.trail_lines, seals.TRAIL_HASHED),
]


@dataclass(frozen=True, slots=True)
class Export:
    """The ledger as of the end of its chain at one moment, ready to be written out, as often as wanted."""

    head: Head = field(default_factory=lambda: Head.objects.get(pk=1))

    def files(self) -> Iterator[tuple[str, Iterator[str]]]:
        """Each file's name with its text in pieces; take the pieces before the next file."""
        upto = self.head.last_number
        yield "README.txt", iter((readme(upto, self.head.last_seal, (more.said for more in MORE)),))
        yield VERIFIER.name, iter((VERIFIER.read_text(encoding="utf-8"),))
        yield "movements.jsonl", _gathered(_sealed_lines(upto))
        yield "accounts.csv", _table("accounts", _accounts())
        yield "movements.csv", _table("movements", _movements(upto))
        for part in PARTS:
            yield f"{part.name}.csv", _table(part.name, _rows_of(part, upto))
        yield "balances.csv", _table("balances", _balances(upto))
        yield "closings.jsonl", _gathered(closings.lines(upto))
        yield "closings.csv", _table("closings", closings.closing_rows(upto))
        yield "closing_balances.csv", _table("closing_balances", closings.balance_rows(upto))
        for more in MORE:
            yield more.name, _gathered(more.lines(upto))

    def write(self, folder: Path) -> Exported:
        """Writes every file into a folder that is empty or not there yet. Raises FolderNotEmpty."""
        folder.mkdir(parents=True, exist_ok=True)
        if any(folder.iterdir()):
            raise FolderNotEmpty(f"{folder} is not empty; name a new folder, so that no export is mixed with another.")
        for name, pieces in self.files():
            with (folder / name).open("w", encoding="utf-8", newline="") as file:
                file.writelines(pieces)
        upto = self.head.last_number
        legs = Leg.objects.filter(movement_id__lte=upto).count()
        return Exported(upto, legs, self.head.last_seal)

    def zipped(self, begun: Callable[[str], None] = lambda name: None) -> Iterator[bytes]:
        """The files as one ZIP archive, in pieces; nothing of it is kept. `begun` is told the name of each file."""
        sink = _Sink()
        with zipfile.ZipFile(cast(IO[bytes], sink), "w", zipfile.ZIP_DEFLATED) as archive:
            for name, pieces in self.files():
                begun(name)
                with archive.open(f"{self.name}/{name}", "w", force_zip64=True) as member:
                    for piece in pieces:
                        member.write(piece.encode())
                        yield from sink.taken()
                yield from sink.taken()
        yield from sink.taken()

    @property
    def number_of_files(self) -> int:
        """How many files it has; none of them is written for that."""
        return sum(1 for _ in self.files())

    @property
    def name(self) -> str:
        """What a folder or archive of this export is called: the ledger up to a movement, and how its seal begins."""
        return f"ledger-{self.head.last_number}-{self.head.last_seal[:8]}"


def export(folder: Path) -> Exported:
    """Writes the whole ledger into a folder that is empty or not there yet. Raises FolderNotEmpty."""
    return Export().write(folder)


class _Sink:
    """A file that a ZIP archive writes into and that is emptied piece by piece while the archive grows.

    It cannot go back, so the archive gives sizes after the data (APPNOTE.TXT 6.3.9, section 4.3.9).
    """

    def __init__(self) -> None:
        self._pieces: list[bytes] = []

    def write(self, data: bytes) -> int:
        self._pieces.append(bytes(data))
        return len(data)

    def flush(self) -> None:
        """Nothing is held back."""

    def taken(self) -> Iterator[bytes]:
        pieces, self._pieces = self._pieces, []
        if pieces:
            yield b"".join(pieces)


class _Line:
    """What the CSV writer writes to: gives each line back."""

    def write(self, text: str) -> str:
        return text


def _gathered(lines: Iterable[str]) -> Iterator[str]:
    """Lines in larger pieces, so that handing them on costs little."""
    held: list[str] = []
    size = 0
    for line in lines:
        held.append(line)
        size += len(line)
        if size >= CHUNK:
            yield "".join(held)
            held, size = [], 0
    yield "".join(held)


def _table(name: str, rows: Iterable[Sequence[Any]]) -> Iterator[str]:
    writerow = csv.writer(_Line()).writerow

    def lines() -> Iterator[Any]:
        yield writerow([column for column, _ in COLUMNS[name]])
        for row in rows:
            yield writerow(tables_out.row(row))

    return _gathered(lines())


def _sealed_lines(upto: int) -> Iterator[str]:
    """The line of each movement with its seals: members in the order of their names, as the line's own are."""
    for one in sealed_movements(upto=upto):
        yield f'{{"content":{one.line},"previous_seal":"{one.previous_seal}","seal":"{one.seal}"}}\n'


def _rows_of(part: Part, upto: int) -> Iterator[Sequence[Any]]:
    """Rows with codes for accounts, sign-on names for people and times as they are sealed."""
    rendered = _renderers(part.model, part.columns)
    for row in rows_in_order(part, upto=upto):
        values = list(row)
        for at, texts in rendered:
            if values[at] is not None:
                values[at] = texts[values[at]]
        yield values


def _movements(upto: int) -> Iterator[Sequence[Any]]:
    columns = [column for column, _ in COLUMNS["movements"]]
    names = {"number": "id"} | {column: f"{column}_id" for column in ("person", "second", "corrects", "restates")}
    kept = tuple(names.get(column, column) for column in columns)
    return _rows_of(Part("movements", Movement, kept, "id"), upto)


def _renderers(model: type[models.Model], columns: Sequence[str]) -> list[tuple[int, Mapping[Any, str]]]:
    codes = dict(Account.objects.values_list("pk", "code"))
    people = dict(Person.objects.values_list("pk", "username"))
    moments = Texts(moment_text)
    fields = {field.column: field for field in model._meta.concrete_fields}
    found: list[tuple[int, Mapping[Any, str]]] = []
    for at, column in enumerate(columns):
        if isinstance(fields[column], DateTimeField):
            found.append((at, moments))
        elif fields[column].related_model is Account:
            found.append((at, codes))
        elif fields[column].related_model is Person:
            found.append((at, people))
    return found


def _balances(upto: int) -> Iterator[Sequence[Any]]:
    sums = Leg.objects.filter(movement_id__lte=upto).order_by("account__code").values_list("account__code")
    yield from sums.annotate(Sum("pure_ul"), Sum("mass_g")).iterator(chunk_size=BATCH)


def _accounts() -> Iterator[Sequence[Any]]:
    for account in Account.objects.order_by("code").iterator(chunk_size=BATCH):
        yield (
            account.code,
            account.kind,
            account.name,
            account.stage,
            int(account.floor_zero),
            account.bottle_pure_ul,
        )
