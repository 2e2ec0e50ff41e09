"""The language in which a step of the process is declared, once.

A sheet says what is written down at a step: its fields with unit, usual range and what cannot be; which
fields together make a gauge; which lines repeat; which quantities are read along the way; at which moments
something is posted, and what. Entry form, page, list, printed record, blank sheet, the loader's columns and
the range checks all follow from it.

A field's name is the column of the log. Limits are in the field's own unit: outside `impossible` is refused,
outside `usual` is kept and noted. A usual range is a habit of the trade unless a step names its source; a
site replaces it by its own records.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from functools import cached_property
from typing import TYPE_CHECKING

from ledger.posting.drafts import DutyDue, FigureTaken, Line
from ledger.posting.gauging import Method

if TYPE_CHECKING:
    from batches.sheets.completed import Completed

# How a gauge finds what a vessel holds.
By = Method

STANDING_CAUTION = (
    "Your site's own risk assessment, the local codes and licensed practice come first; "
    "this note is not a safe way of working in itself."
)


class Kind(StrEnum):
    """What sort of value a field takes."""

    NUMBER = "number"
    WHOLE = "whole"
    MOMENT = "moment"
    CHOICE = "choice"
    VESSEL = "vessel"
    RECORD = "record"
    TEXT = "text"


class Role(StrEnum):
    """Whether a gauge was taken before or after what the step does."""

    BEFORE = "before"
    AFTER = "after"


@dataclass(frozen=True, slots=True)
class Problem:
    """What is wrong with one field, in a sentence that names field, value and limit. Rows count from 0."""

    field: str
    row: int | None
    sentence: str


@dataclass(frozen=True, slots=True)
class Note:
    """What is unlikely about one field and kept all the same; `instead` is what may have been meant."""

    field: str
    row: int | None
    sentence: str
    instead: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One thing written on the sheet.

    `decimals` is how finely it is read, `most_decimals` how many a rule allows (more are kept and noted), `longest` how
    many characters are kept. `choices` bind a choice and are only offered for a text. A vessel is looked for among
    `vessel_kinds`, `stages` and `purposes` (empty: any). `assumed`: left blank, it is the only vessel that fits, where
    there is only one. `lot`: the text is the number of a lot that can be traced. `not_before` names a moment that this
    one may not precede. `figures_from`: what is posted is worked out from the record named here, so it is posted anew
    when that record is corrected.
    """

    name: str
    label: str
    kind: Kind
    unit: str = ""
    decimals: int = 0
    impossible_below: Decimal | None = None
    impossible_above: Decimal | None = None
    usual_low: Decimal | None = None
    usual_high: Decimal | None = None
    required: bool = True
    help: str = ""
    choices: tuple[str, ...] = ()
    vessel_kinds: tuple[str, ...] = ()
    stages: tuple[str, ...] = ()
    purposes: tuple[str, ...] = ()
    record_kind: str = ""
    assumed: bool = False
    lot: bool = False
    not_before: str = ""
    figures_from: bool = False
    default: str = ""
    longest: int = 400
    most_decimals: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Gauge:
    """Readings that together say what one vessel holds; its fields are made from the prefix.

    A dip and hydrometer: `X_dip_mm`, `X_celsius`, `X_hydrometer_percent`. A dip and gravities: `X_dip_mm`,
    `X_celsius`, with both gravities from this sheet or from the record in `gravities_of`. A weight: `tare_kg`,
    `gross_kg`, `celsius`, `hydrometer_percent`; with a strength already known at 20 °C: `tare_kg`,
    `gross_kg`, `percent`. `celsius_from` names the temperature where one was read for two dips. `present_gravity`
    names a field for the gravity of wash: a washback may then stand here too, and is gauged by dip and gravities.
    """

    prefix: str
    label: str
    vessel: str
    role: Role
    by: By = By.SPIRIT_DIP
    usual_percent: tuple[str, str] | None = None
    usual_celsius: tuple[str, str] = ("5", "30")
    celsius_from: str = ""
    gravities_of: str = ""
    present_gravity: str = ""

    def name(self, part: str) -> str:
        """The column of one part: `spirit_after_dip_mm`, or `gross_kg` where there is no prefix."""
        return f"{self.prefix}_{part}" if self.prefix else part

    @property
    def celsius(self) -> str:
        """The column in which the temperature of this gauge stands."""
        return self.celsius_from or self.name("celsius")

    @property
    def fields(self) -> tuple[Field, ...]:
        """The fields this gauge adds to the sheet."""
        from batches.sheets.fields import gauge_fields

        return gauge_fields(self)


Item = Field | Gauge


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A part of the sheet under one heading. All its fields belong to one moment of the record."""

    heading: str
    items: tuple[Item, ...]
    moment: str = ""
    caution: str = ""

    @property
    def fields(self) -> tuple[Field, ...]:
        """Its fields in order, those of gauges included."""
        return tuple(_fields_of(self.items))

    @property
    def gauges(self) -> tuple[Gauge, ...]:
        """Its gauges in order."""
        return tuple(item for item in self.items if isinstance(item, Gauge))


@dataclass(frozen=True, slots=True, kw_only=True)
class Rows:
    """Lines that repeat: the casks of a fill, the vessels of a stock take. `each` names what may stand only once."""

    heading: str
    one: str
    items: tuple[Item, ...]
    each: str
    moment: str = ""
    least: int = 1

    @property
    def fields(self) -> tuple[Field, ...]:
        """The fields of one line in order."""
        return tuple(_fields_of(self.items))

    @property
    def gauges(self) -> tuple[Gauge, ...]:
        """The gauges of one line."""
        return tuple(item for item in self.items if isinstance(item, Gauge))


@dataclass(frozen=True, slots=True)
class Posting:
    """What one moment of a record hands to the ledger."""

    lines: tuple[Line, ...]
    duty: tuple[DutyDue, ...] = ()
    figures: tuple[FigureTaken, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """A point at which a record is complete enough to be posted. `when` is the field that says when it happened.

    `post` is the step's one function from what was written to what the ledger is told; None where no alcohol moves.
    `order` is its place among moments written for the same minute: what fills a vessel comes before what draws
    from it.
    """

    name: str
    label: str
    when: str
    order: int
    post: Callable[[Completed], Posting] | None = None


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """One step. `kind` is its name in code, `operation` its name in the books, `table` its file in the log.

    `prefix` and `digits` make its numbers; `number_column` is the log's column for them, empty where the log
    has none (then `identity` names the fields that tell one record from another). `book_of` names the field
    of a cask whose book the posting reads: it is posted anew when that book changes before it. `check` says
    what only the whole sheet can tell; `keep` writes what the step changes about the plant itself.
    """

    kind: str
    title: str
    plural: str
    operation: str
    table: str
    prefix: str
    digits: int = 4
    number_column: str = ""
    identity: tuple[str, ...] = ()
    moments: tuple[Moment, ...]
    sections: tuple[Section, ...]
    rows: Rows | None = None
    readings: tuple[Field, ...] = ()
    cautions: tuple[str, ...] = ()
    list_columns: tuple[str, ...] = ()
    second_person: bool = False
    book_of: str = ""
    printed_title: str = ""
    check: Callable[[Completed], list[Problem]] | None = None
    note: Callable[[Completed], list[Note]] | None = None
    keep: Callable[[Completed], None] | None = None

    def __post_init__(self) -> None:
        names = [one.name for one in self.fields]
        if len(set(names)) != len(names):
            raise ValueError(f"A field of {self.kind} is declared twice: {names}")

    @cached_property
    def fields(self) -> tuple[Field, ...]:
        """All fields that stand once on the sheet, in order."""
        return tuple(one for section in self.sections for one in section.fields)

    @cached_property
    def row_fields(self) -> tuple[Field, ...]:
        """All fields of one repeating line."""
        return self.rows.fields if self.rows else ()

    @cached_property
    def gauges(self) -> tuple[Gauge, ...]:
        """All gauges that stand once on the sheet, in order."""
        return tuple(gauge for section in self.sections for gauge in section.gauges)

    @cached_property
    def columns(self) -> tuple[str, ...]:
        """The columns of the log, in order."""
        head = (self.number_column,) if self.number_column else ()
        return head + tuple(one.name for one in (*self.fields, *self.row_fields))

    @cached_property
    def _moments_by_field(self) -> dict[str, Moment]:
        first = self.moments[0].name
        found: dict[str, Moment] = {}
        for section in self.sections:
            for one in section.fields:
                found[one.name] = self.moment(section.moment or first)
        for one in self.row_fields:
            found[one.name] = self.moment((self.rows.moment if self.rows else "") or first)
        return found

    @cached_property
    def _fields_by_name(self) -> dict[str, Field]:
        return {one.name: one for one in (*self.fields, *self.row_fields)}

    def moment(self, name: str) -> Moment:
        """A moment by its name. Raises KeyError."""
        for one in self.moments:
            if one.name == name:
                return one
        raise KeyError(f"{self.kind} has no moment {name}")

    def moment_of(self, field_name: str) -> Moment:
        """The moment a field or a repeating line's field belongs to."""
        return self._moments_by_field[field_name]

    def fields_of(self, moment: Moment) -> tuple[Field, ...]:
        """The single fields of one moment, in order."""
        return tuple(one for one in self.fields if self.moment_of(one.name) is moment)

    def rows_belong_to(self, moment: Moment) -> bool:
        """True where the repeating lines are part of that moment."""
        return self.rows is not None and (self.rows.moment or self.moments[0].name) == moment.name

    def field(self, name: str) -> Field:
        """A field, or a repeating line's field, by name. Raises KeyError."""
        return self._fields_by_name[name]

    def has_field(self, name: str) -> bool:
        """True where the sheet or its lines have such a field."""
        return name in self._fields_by_name

    def gauge(self, prefix: str) -> Gauge:
        """A gauge by its prefix, those of the lines last. Raises KeyError."""
        for one in (*self.gauges, *(self.rows.gauges if self.rows else ())):
            if one.prefix == prefix:
                return one
        raise KeyError(f"{self.kind} has no gauge {prefix}")

    def reading(self, quantity: str) -> Field | None:
        """The declaration of a quantity read along the way, or None."""
        return next((one for one in self.readings if one.name == quantity), None)

    def number(self, serial: int) -> str:
        """The number of a record of this kind: SR0007."""
        return f"{self.prefix}{serial:0{self.digits}d}"


def _fields_of(items: tuple[Item, ...]) -> Iterator[Field]:
    for item in items:
        if isinstance(item, Gauge):
            yield from item.fields
        else:
            yield item
