"""Loads a month's folder of tables through the same recording as the forms: in order of time, all or nothing.

A row that is already on record with the same figures is passed over; one with other figures is a bad row, because a
record is put right on its own page with a reason. Every bad row is reported, not only the first: what hangs on a row
that failed is left out quietly, so that one slip does not raise a hundred complaints. A suspicious figure is no bad
row: it loads, and is for the books to find.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from pathlib import Path

from django.db import transaction
from django.utils import timezone

from batches.loading import vessel_roles
from batches.loading.clock import books_are_empty, said_ahead, set_by_log
from batches.loading.entries import Entry, Event, entries_of, events_of
from batches.loading.hands import hand
from batches.loading.log_tables import date_openings, log_table, log_tables, unknown_tables
from batches.loading.matching import AlreadyThere, compare
from batches.loading.outcome import BadRows, Loaded
from batches.loading.plant_tables import PlantLoad
from batches.loading.problems import Problems, TooMany, by_themselves, in_order
from batches.loading.progress import Progress, now_and_then
from batches.loading.readings import COLUMNS, ReadingsLoad
from batches.loading.tables import BadRow, Folder, Source, Table
from batches.models import Record
from batches.records import recording
from batches.records.asking import enter_casks_of_log
from batches.records.versions import identity_of
from batches.sheets.sheet import Kind, Problem
from batches.sheets.site import Site
from batches.sheets.typed.read_sheet import Unfit, read_fields, read_sheet
from batches.steps import STEPS
from distillery.clock.reading import let_go
from distillery.database.retrying import retried
from distillery.people.models import Person
from distillery.plant.models import Kind as VesselKind
from distillery.plant.models import Vessel
from ledger.enquiries.following import catch_up, deferred
from ledger.posting.accounts import open_accounts, vessel_account
from ledger.posting.drafts import Refused
from ledger.posting.turns import turn

__all__ = ["BadRows", "Load", "Loaded", "load_folder"]


def load_folder(
    folder: Path,
    *,
    person: Person | None = None,
    second: Person | None = None,
    progress: Progress | None = None,
    demonstration: bool = False,
) -> Loaded:
    """Loads `plant/` and `log/` of a folder, in one turn, and compares what it wrote. Raises BadRows with all that is
    wrong, Busy; then nothing is changed.

    Books that hold nothing get a clock of their own where the month lies ahead of real time, and those of the
    `demonstration` whenever it lies.
    """
    progress = progress or (lambda line: None)
    loaded = _load(folder, person, second, progress, demonstration)
    sometimes = now_and_then(progress)
    catch_up(lambda said, place, periods: sometimes(said))
    return loaded


@retried
def _load(
    folder: Path, person: Person | None, second: Person | None, progress: Progress, demonstration: bool
) -> Loaded:
    bad = Problems()
    if not folder.is_dir():
        raise BadRows([BadRow(str(folder), 0, "", "There is no such folder.")])
    with turn():
        load = Load(
            Folder(folder),
            bad,
            person=person,
            second=second,
            progress=progress,
            demonstration=demonstration,
        )
        try:
            with deferred():
                try:
                    loaded = load.run()
                except TooMany as many:
                    raise BadRows(in_order(bad), and_more=True) from many
                if bad:
                    raise BadRows(in_order(bad))
        finally:
            # A clock that was set goes with a load that was refused.
            let_go()
    return loaded


class Load:
    """One load from first table to last reading."""

    def __init__(
        self,
        source: Source,
        bad: Problems,
        *,
        person: Person | None,
        second: Person | None = None,
        progress: Progress,
        demonstration: bool = False,
    ) -> None:
        self.source = source
        self.bad = bad
        self._person = person
        self._second = second
        self.demonstration = demonstration
        self.written_at = timezone.now()
        self.loaded = Loaded()
        self.failed: set[str] = set()
        self.tainted: set[str] = set()
        # Vessels that a bad row of the plant lists: that they are not there is no fault of what names them.
        self.unlisted: set[str] = set()
        self.numbers: dict[int, str] = {}
        self.readings: ReadingsLoad | None = None
        self.done: set[int] = set()
        self._say = now_and_then(progress)

    @cached_property
    def person(self) -> Person:
        """In whose hand the log is written; the account for it is made when there is something to write."""
        return self._person or hand("log", "Written log")

    @cached_property
    def second(self) -> Person:
        """Who agreed to the stock takes of the log."""
        return self._second or hand("log-second", "Written log, second person")

    def run(self) -> Loaded:
        """Plant first, then the log in order of time, each record's readings before it is finished."""
        plant = PlantLoad(self.source, self.bad, hand=lambda: self.person)
        plant.read()
        tables = log_tables(self.source, plant, self.bad)
        readings = self._readings_table()
        if readings is not None:
            self.readings = ReadingsLoad(readings, self.bad, lambda: self.person, self.written_at)
        unknown_tables(self.source, self.bad)
        plant.write()
        if self.bad.of_the_plant and not self.source.is_a_month:
            self.unlisted |= self.bad.unlisted(plant.tables)
        elif self.bad.of_the_plant:
            # Where the plant's tables are bad, every row that names what they list would look wrong too. Only what is
            # wrong by itself is still said.
            self.bad += by_themselves(self._entries(tables))
            return self.loaded
        vessel_roles.settle(tables, self.bad)
        # An empty vessel has its account too, so that the plant shows it before anything is in it.
        open_accounts(vessel_account(vessel) for vessel in Vessel.objects.exclude(kind=VesselKind.CASK))
        self.loaded.plant = {what: count for what, count in plant.added.items() if count}
        self.loaded.passed_over = plant.passed_over
        entries = self._entries(tables)
        if entered := enter_casks_of_log((one.sheet, one.rows) for one in entries):
            self.loaded.plant["casks of the log"] = entered
        self.site = Site()
        date_openings(entries)
        self.site.look_up(code for entry in entries for code in entry.vessels())
        self.there = AlreadyThere.among(entries)
        self._already_bad()
        self._undated(entries)
        self._already_bad()
        events = events_of(entries)
        self._clock(events)
        for place, event in enumerate(events, start=1):
            self._save(event)
            self._say(f"{place} of {len(events)} entries")
        if self.readings is not None:
            self.readings.add_rest(self.failed)
            self.loaded.readings = self.readings.added
            self.loaded.passed_over += self.readings.passed_over
        return self.loaded

    def _clock(self, events: list[Event]) -> None:
        """Sets the clock of empty books; in books that stand, says what is ahead of it."""
        if books_are_empty():
            self.loaded.books_clock = set_by_log(events, always=self.demonstration)
        self.loaded.ahead = said_ahead(events)

    def _readings_table(self) -> Table | None:
        return log_table(self.source, "readings", COLUMNS, COLUMNS, self.bad)

    def _entries(self, tables: Mapping[str, Table]) -> list[Entry]:
        there = (sheet for sheet in STEPS if sheet.table in tables)
        return [entry for sheet in there for entry in entries_of(sheet, tables[sheet.table], self.bad)]

    def _undated(self, entries: list[Entry]) -> None:
        """Rows without a time cannot be put in order, so all that is wrong with them is said at once."""
        for entry in entries:
            if entry.happened(entry.sheet.moments[0]) is None:
                self._complain(entry)

    def _already_bad(self) -> None:
        """Rows that cannot be right as they stand are not tried, nor is what hangs on them."""
        self.bad_rows = {(bad.file, bad.row) for bad in self.bad}
        self.bad_cells = {(bad.file, bad.row, bad.column) for bad in self.bad}

    # -- saving

    def _save(self, event: Event) -> None:
        entry = event.entry
        if id(entry) in self.done:
            return
        if entry.number in self.failed:
            self._fail(entry)
            return
        if self._hangs_on_failure(entry):
            self._complain(entry)
            return
        if {(entry.file, line.row) for line in entry.lines} & self.bad_rows or (entry.file, entry.row) in self.bad_rows:
            self._complain(entry)
            return
        if event.is_first:
            there = self._existing(entry)
            if there is not None and not self._adds_to(entry, there):
                self.done.add(id(entry))
                return
            # Where there is but one moment, saving it says all that reading it first would say.
            if len(entry.sheet.moments) > 1 and not self._is_fit(entry):
                return
            if there is not None:
                self.numbers[id(entry)] = there.number
        number = self.numbers.get(id(entry), entry.number)
        # Taken before the savepoint: an account made inside it would go with a row that is refused.
        person, second = self.person, self.second if entry.sheet.asks_second(entry.values) else None
        try:
            with transaction.atomic():
                record = recording.save(
                    entry.sheet.kind,
                    number or None,
                    entry.up_to(event.moment, is_last=event.is_last),
                    entry.rows if entry.lines else [],
                    person=person,
                    second=second,
                    written_at=self.written_at,
                    site=self.site,
                    sure=True,
                    ends=entry.happened(entry.sheet.moments[-1]),
                )
        except Unfit as unfit:
            self._report(entry, [(problem.field, problem.row, problem.sentence) for problem in unfit.problems])
            return
        except Refused as refused:
            self._report(entry, [(refused.field, None, refused.sentence)])
            return
        if event.is_first and id(entry) not in self.numbers:
            self.loaded.records[entry.sheet.kind] = self.loaded.records.get(entry.sheet.kind, 0) + 1
        self.numbers[id(entry)] = record.number
        self.there.add(record)
        if self.readings is not None and event.is_first:
            self.readings.add_to(record)

    def _hangs_on_failure(self, entry: Entry) -> bool:
        return bool(entry.refers_to() & self.failed)

    def _fail(self, entry: Entry) -> None:
        """Remembers that an entry came to nothing, so that what hangs on it is not complained of."""
        self.done.add(id(entry))
        if entry.number:
            self.failed.add(entry.number)
        self.tainted |= entry.vessels()

    def _is_fit(self, entry: Entry) -> bool:
        """Reads the whole row before any of it is saved, so that all that is wrong with it is said.

        What the step checks of a later moment alone is left to that moment: what it asks for may happen meanwhile, as
        the run of another row that has to end before a period does.
        """
        problems = self._read(entry)
        if problems and not self._read(entry, by_itself=True):
            first = entry.sheet.moments[0]
            now = [one for one in problems if not one.field or entry.sheet.moment_of(one.field) is first]
            problems = problems if now else []
        if problems:
            self._report(entry, [(problem.field, problem.row, problem.sentence) for problem in problems])
        return not problems

    def _read(self, entry: Entry, *, by_itself: bool = False) -> list[Problem]:
        """All that is wrong with a row read as a whole."""
        return read_sheet(
            entry.sheet,
            entry.values,
            entry.rows,
            site=self.site,
            number=entry.number,
            strict=True,
            by_itself=by_itself,
        ).problems

    def _complain(self, entry: Entry) -> None:
        """Says what else is wrong with a row that is not saved anyway; the records it names are not its fault."""
        problems = self._read(entry)
        references = {one.name for one in entry.sheet.fields if one.kind == Kind.RECORD}
        self._report(
            entry,
            [
                (one.field, one.row, one.sentence)
                for one in problems
                if one.field not in references
                and (entry.file, entry.row_of(one.row), entry.column_of(one.field)) not in self.bad_cells
            ],
        )

    def _report(self, entry: Entry, problems: list[tuple[str, int | None, str]]) -> None:
        # A cask or stock that a failed row would have filled is not short: the row before it is what is wrong.
        tainted = bool(entry.vessels() & self.tainted)
        for name, row, sentence in problems:
            if tainted and entry.sheet.has_field(name) and entry.sheet.field(name).draws_on_books:
                continue
            if entry.names(name) in self.unlisted:
                continue
            self.bad.append(BadRow(entry.file, entry.row_of(row), entry.column_of(name), sentence))
        self._fail(entry)

    # -- what is there already

    def _existing(self, entry: Entry) -> Record | None:
        if entry.number:
            return self.there.numbered(entry.number)
        sheet = entry.sheet
        identity = identity_of(sheet, read_fields(sheet, entry.values, sheet.identity, site=self.site))
        return self.there.known_by(sheet.kind, identity) if identity else None

    def _adds_to(self, entry: Entry, record: Record) -> bool:
        """True where the row says more than the record; False where it says the same. Other figures are a bad row."""
        if record.kind != entry.sheet.kind:
            self._report(entry, [("", None, f"{record.number} is the number of another record already.")])
            return False
        match = compare(entry, record)
        if match.is_known:
            self.source.note_there(entry.file, entry.row)
            self.loaded.passed_over += max(1, len(entry.lines))
        elif match.conflicts:
            self._report(entry, [(one.field, one.row, one.sentence(record.number)) for one in match.conflicts])
        return not match.is_known and not match.conflicts
