"""Reads the trail, newest first: what was entered, changed and removed in rows that no movement's seal covers.

Read by key, a piece at a time, so that a long trail costs no more than what is shown of it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db.models import OuterRef, QuerySet, Subquery

from distillery import figures
from distillery.trail.kept import told_models
from distillery.trail.meaning import meaning
from distillery.trail.models import Act, Entry
from distillery.trail.who import who_wrote
from distillery.trail.words import Names, column, kind_of, shown, which

PIECE = 250
LINES = 50
# No page reads more entries than this, however many rows were entered one after another.
MOST = 5_000
EXAMPLES = 20
ENTERED, CHANGED = "entered", "changed"
EARLIEST_YEAR, LATEST_YEAR = 1900, 2199


@dataclass(frozen=True, slots=True)
class Change:
    """One column of a row: what it said and what it says, in words; blank where it said nothing."""

    what: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Told:
    """One entry in words. `act` is 'entered', 'changed', 'removed' or 'taken in'; `by` is blank where nobody knows.

    `is_first`: nothing was there before, so the changes are all that was entered.
    """

    at: datetime
    act: str
    which: str
    changes: tuple[Change, ...]
    by: str
    is_first: bool


@dataclass(frozen=True, slots=True)
class Run:
    """Rows entered one after another: from when to when, how many of each kind, and the newest of them."""

    first_at: datetime
    last_at: datetime
    said: str
    examples: tuple[Told, ...]
    more: int

    @property
    def when(self) -> str:
        """The time in which they were entered, one of the two where both are written alike."""
        return " to ".join(dict.fromkeys((figures.moment(self.first_at), figures.moment(self.last_at))))


@dataclass(frozen=True, slots=True)
class Page:
    """Lines of the trail, and the key from which the older ones go on, if there are any."""

    lines: tuple[Told | Run, ...]
    older: int | None


class NoSuchDay(ValueError):
    """A text that names no day; `str()` says how to write one."""


def day_of(text: str) -> date:
    """The day a text names, as 2027-03-04. Raises NoSuchDay."""
    try:
        day = date.fromisoformat(text.strip())
    except ValueError:
        day = date.min
    if not EARLIEST_YEAR <= day.year <= LATEST_YEAR:
        raise NoSuchDay(f"'{text[:40]}' is not a day; write it as 2027-03-04.")
    return day


def told_entries() -> QuerySet[Entry]:
    """Entries that people are shown, each with what its row said before as `said_before`."""
    earlier = Entry.objects.filter(table=OuterRef("table"), row=OuterRef("row"), pk__lt=OuterRef("pk")).order_by("-pk")
    shown_tables = Entry.objects.filter(table__in=list(told_models()))
    return shown_tables.annotate(said_before=Subquery(earlier.values("content")[:1]))


def entries(*, since: date | None = None, until: date | None = None, before: int | None = None) -> Iterator[Entry]:
    """Entries that people are shown, newest first; each has what its row said before as `said_before`.

    `since` and `until` are days on the site's clock, both within; `before` is a key.
    """
    chosen = told_entries()
    if since is not None:
        chosen = chosen.filter(at__gte=_begins(since))
    if until is not None:
        chosen = chosen.filter(at__lt=_begins(until + timedelta(days=1)))
    chosen = chosen.order_by("-pk")
    while True:
        piece = list((chosen if before is None else chosen.filter(pk__lt=before))[:PIECE])
        yield from piece
        if len(piece) < PIECE:
            return
        before = piece[-1].pk


def told(*, since: date | None = None) -> Iterator[Told]:
    """All entries since a day, in words, newest first."""
    piece: list[Entry] = []
    for entry in entries(since=since):
        piece.append(entry)
        if len(piece) == PIECE:
            yield from tell(piece)
            piece = []
    yield from tell(piece)


def page(*, day: date | None = None, before: int | None = None) -> Page:
    """One page of lines: of one day or of all, older than a key. Rows entered in a row make one line."""
    lines: list[list[Entry]] = []
    counts: list[Counter[str]] = []
    last: Entry | None = None
    read = 0
    for entry in entries(since=day, until=day, before=before):
        goes_on = bool(lines) and _is_first(entry) and _is_first(lines[-1][0])
        if read == MOST or (len(lines) == LINES and not goes_on):
            return Page(_lines(lines, counts), last.pk if last is not None else None)
        if goes_on:
            # The last place holds the oldest of the run so far.
            lines[-1][EXAMPLES:] = [entry]
        else:
            lines.append([entry])
            counts.append(Counter())
        counts[-1][entry.table] += 1
        last, read = entry, read + 1
    return Page(_lines(lines, counts), None)


def _lines(lines: Sequence[Sequence[Entry]], counts: Sequence[Counter[str]]) -> tuple[Told | Run, ...]:
    # Of a run only its examples are told; the last place holds its oldest, for the time.
    in_words = {id(entry): one for entry, one in _together([entry for line in lines for entry in line[:EXAMPLES]])}
    models = told_models()
    found: list[Told | Run] = []
    for line, count in zip(lines, counts, strict=True):
        number = count.total()
        if number == 1:
            found.append(in_words[id(line[0])])
            continue
        said = ", ".join(f"{many} {kind_of(models[table], several=many > 1)}" for table, many in count.most_common())
        examples = tuple(in_words[id(entry)] for entry in line[:EXAMPLES])
        found.append(Run(line[-1].at, line[0].at, said, examples, number - len(examples)))
    return tuple(found)


def _together(chosen: Sequence[Entry]) -> Iterator[tuple[Entry, Told]]:
    yield from zip(chosen, tell(chosen), strict=True)


def tell(chosen: Sequence[Entry]) -> list[Told]:
    """Entries of `entries` in words."""
    models = told_models()
    names = Names()
    rows = [(entry, meaning(entry.table, entry.content), meaning(entry.table, _before(entry))) for entry in chosen]
    names.learn((models[entry.table], content) for entry, now, then in rows for content in (now, then))
    by = who_wrote([(entry, now, _is_first(entry)) for entry, now, _ in rows])
    found = []
    for entry, now, then in rows:
        model = models[entry.table]
        act = entry.act if entry.act != Act.WRITTEN else ENTERED if _is_first(entry) else CHANGED
        changes = []
        for field in model._meta.concrete_fields:
            name = str(field.column)
            if (field.primary_key and not field.remote_field) or now.get(name) == then.get(name):
                continue
            texts = shown(field, then.get(name), names), shown(field, now.get(name), names)
            if any(texts):
                changes.append(Change(column(field), *texts))
        if entry.act == Act.REMOVED:
            changes = []
        at = entry.at.astimezone(UTC)
        name = which(model, now or then, entry.row, names)
        found.append(Told(at, str(act), name, tuple(changes), by.get(entry.pk, ""), _is_first(entry)))
    return found


def _before(entry: Entry) -> str:
    said: str | None = entry.said_before  # type: ignore[attr-defined]
    return said or ""


def _is_first(entry: Entry) -> bool:
    return entry.act != Act.REMOVED and not _before(entry)


def _begins(day: date) -> datetime:
    return datetime.combine(day, time(), tzinfo=ZoneInfo(settings.TIME_ZONE))
