"""One thing written on a sheet: its field, with all that a table, a form or the reading of it asks of the field; and
what a sheet says of itself besides its fields.

A field's name is the column of the log. Limits are in the field's own unit: outside `impossible` is refused,
outside `usual` is kept and noted. A usual range is a habit of the trade unless a step names its source; a
site replaces it by its own records.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from enum import StrEnum

from distillery.plant.models import Kind as VesselKind
from distillery.plant.models import Vessel
from ledger.posting.accounts import AccountRef
from ledger.posting.drafts import DutyDue, FigureTaken, JudgedAgainst, Line, Moved, Taken


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
    """What is wrong with one field, in a sentence that names field, value and limit. Rows count from 0. `in_the_way`:
    number of a record that has not ended and holds what the field names; `instead`: what may go in the box instead."""

    field: str
    row: int | None
    sentence: str
    in_the_way: str = ""
    instead: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Note:
    """What is unlikely about one field and kept all the same; `instead` is what may have been meant."""

    field: str
    row: int | None
    sentence: str
    instead: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ToldBy:
    """How the rest of a log tells what one of its tables leaves out.

    A vessel is told where only one fits by stage and purpose. Where several do, the row is bad, and `says` begins the
    sentence about it ('wash runs send low wines to'). `made_as` is the code of a vessel that is made where the plant
    lists none. `named_with`: it is the vessel with one of these words in its name, in small letters. `unused`: it is
    one that nothing else in the log draws from or fills, and among several the one whose dips agree. `at_opening`: the
    time is that of the opening stock, or before all else. `by_default`: it is what the field has by default.
    """

    says: str = ""
    made_as: str = ""
    named_with: tuple[str, ...] = ()
    unused: bool = False
    at_opening: bool = False
    by_default: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class NewCask:
    """The fields that say what the plant must know of a cask it does not have. `by_log`: a row of a log is enough."""

    kind: str
    litres: str
    by_log: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One thing written on the sheet.

    `decimals` is how finely it is read, `most_decimals` how many a rule allows (more are kept and noted), `longest` how
    many characters are kept. `choices` bind a choice and are only offered for a text. A vessel is looked for among
    `vessel_kinds`, `stages` and `purposes` (empty: any). `assumed`: left blank, it is the only vessel that fits, where
    there is only one. `lot`: the text is the number of a lot that can be traced. `not_before` names a moment that this
    one may not precede. `found_as`: a record is found by what stands in it, as a 'document' or a 'product'.
    `figures_from`: what is posted is worked out from the record named here, so it is posted anew
    when that record is corrected. `told_by`: how a log's table may leave it out. `from_stock`: so many are taken from
    what the books hold, so that a row before it may be what is wrong with it. `falls`: read along the way, it only
    falls while the work goes on. `new_as`: a cask that the plant does not have may be entered with the sheet. `made_as`
    is the name of a vessel that a log names and the plant does not list, as it lists no stills. `short` is what it
    is called where room is scarce. `read_at` names the temperature that is read with a gravity along the way: beside
    what was read the gravity is then shown at 20 °C.
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
    found_as: str = ""
    not_before: str = ""
    figures_from: bool = False
    default: str = ""
    longest: int = 400
    most_decimals: int | None = None
    told_by: ToldBy | None = None
    from_stock: bool = False
    falls: bool = False
    new_as: NewCask | None = None
    made_as: str = ""
    short: str = ""
    read_at: str = ""

    @property
    def short_label(self) -> str:
        """What it is called where there is little room."""
        return self.short or self.label

    @property
    def draws_on_books(self) -> bool:
        """True where what is wrong with it may hang on an earlier entry: a count of stock, or a cask."""
        return self.from_stock or self.vessel_kinds == (VesselKind.CASK,)


class StockTaken(StrEnum):
    """A sheet by which all that is there is gauged: when the books open, or again and again."""

    OPENING = "opening"
    AGAIN = "again"


@dataclass(frozen=True, slots=True, kw_only=True)
class BottlesLeave:
    """Bottles leave the site by a sheet: its fields for the product, for how many they are and for what they left."""

    product: str
    bottles: str
    left_for: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DueBy:
    """Until when a moment has to come: dated rules say it of this operation, on the occasion that stands in a field."""

    operation: str
    occasion: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaves:
    """Alcohol leaves the site by a sheet: its fields for what it left for, for who takes it and for the document, and
    those that say what it was, on the sheet or on its lines.
    """

    left_for: str
    consignee: str
    document: str
    named: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cleans:
    """A sheet by which a vessel is cleaned: its fields for the vessel and for what was found in the end, and the word
    that stands there where it is clean.
    """

    vessel: str
    found: str
    clean: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Works:
    """A washback that holds the work of a record before its alcohol is declared: the field that names it, and what is
    said of the record meanwhile ('ferments'). `litres` says where to read how much went in: first the fields that name
    the records on the way to it, then the field itself, each of them told.
    """

    vessel: str
    said: str
    litres: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Distils:
    """A run that belongs to a distillation period: the class of its spirits, the field of the receiver its spirit runs
    into, and the field of the record whose wash it is charged with; blank where it has none.
    """

    spirits: str
    spirit: str = ""
    wash_of: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """What is drawn of the readings along the way: `quantity` against time, `beside` it another with a scale of its
    own. `degrees`: a relative density is drawn in degrees of gravity. Otherwise the cuts are drawn in: the times on
    the sheet that are no moments, each with the strength that stands after it. `begun` is the word at its beginning.
    `also` are further quantities below those two. In degrees all are drawn by hours, over the band of the last batches.
    """

    quantity: str
    beside: str = ""
    degrees: bool = False
    begun: str = "begun"
    also: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """Something that happens while a record runs and is written down as it happens: a cut, a water, a stop.

    `label` is its button, `said` what has been done once it is pressed ('Cut made'). `when` names the field of its
    time, `figures` those of its one or two figures. `state` is the word the run is in after it; blank, it goes back to
    the word before. `into` names the vessel that takes what runs off from then on. `plan` names the figure whose usual
    value in the last runs is its plan; a plan of the run's own, in the field that `planned` names, goes first. `after`
    is the event it can only follow.

    An event that may come again has no field of its own: it stands among the readings along the way, `says` as the
    value of the quantity `again`.

    An event that posts is a moment of the sheet that need not come: `moment` names it, and it is written on the sheet
    itself. `instead_of` names the receiver in whose place `into` takes what runs off from then on.
    """

    name: str
    label: str
    said: str
    when: str = ""
    figures: tuple[str, ...] = ()
    state: str = ""
    into: str = ""
    plan: str = ""
    planned: str = ""
    after: str = ""
    again: str = ""
    says: str = ""
    moment: str = ""
    instead_of: str = ""

    @property
    def only_notes(self) -> bool:
        """True where it may come again and neither stops the run nor starts it: foam in a washback."""
        return bool(self.again) and not self.state and not self.after


@dataclass(frozen=True, slots=True, kw_only=True)
class Running:
    """What a record is between its first moment and its last.

    `state` is the word it is in after its first moment, `into` the vessel that takes what runs off then. `every` is how
    long after one reading the next is usually due, until a site sets its own: common practice, no source. `by_hours`:
    how long it has lasted says more from afar than its word does. `product` names the field of what it makes, where
    runs that make something else are no likeness of it.
    """

    state: str
    every: timedelta
    into: str = ""
    events: tuple[Event, ...] = ()
    by_hours: bool = False
    product: str = ""

    def event(self, name: str) -> Event | None:
        """An event by its name, or None."""
        return next((one for one in self.events if one.name == name), None)


def kept_for_something_else(one: Field, vessel: Vessel) -> str:
    """What a vessel is kept for, where that is something else than this box asks for; blank where it fits. A vessel
    that is kept for nothing in particular may stand in any box of its stage.
    """
    if one.stages and vessel.stage not in one.stages:
        return (
            f"{one.label}: {vessel.code} is a {vessel.kind} for {vessel.stage}; a {vessel.kind} for "
            f"{either(one.stages)} goes here."
        )
    if one.purposes and vessel.purpose and vessel.purpose not in one.purposes:
        return (
            f"{one.label}: {vessel.code} is kept for {vessel.purpose}; a {vessel.kind} kept for "
            f"{either(one.purposes)} goes here."
        )
    return ""


def either(words: Sequence[str]) -> str:
    """'receiver or vat'."""
    return " or ".join(words)


def _sides(line: Line) -> tuple[AccountRef, ...]:
    """The accounts that a line brings to nothing or moves something between."""
    if isinstance(line, Taken):
        return (line.against,)
    return (line.giver, line.taker) if isinstance(line, Moved) else (line.into,)


@dataclass(frozen=True, slots=True)
class Posting:
    """What one moment of a record hands to the ledger, and what the difference it leaves is judged against.

    A line is None where what it would say was not measured and is marked missing; `told` are the others.
    Raises ValueError where it leaves a difference and does not say what that is judged against.
    """

    lines: tuple[Line | None, ...]
    duty: tuple[DutyDue, ...] = ()
    figures: tuple[FigureTaken, ...] = ()
    judged: JudgedAgainst | None = None

    def __post_init__(self) -> None:
        left = {ref.code for line in self.told for ref in _sides(line) if ref.is_difference}
        if left and self.judged is None:
            raise ValueError(f"A posting to {', '.join(sorted(left))} says nothing of what it is judged against.")

    @property
    def told(self) -> tuple[Line, ...]:
        """The lines that were measured."""
        return tuple(line for line in self.lines if line is not None)
