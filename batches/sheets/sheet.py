"""The language in which a step of the process is declared, once.

A sheet says what is written down at a step: its fields with unit, usual range and what cannot be (`declared`); which
fields together make a gauge (`gauges`); which lines repeat; which quantities are read along the way and how they are
drawn; at which moments something is posted, and what; what it occupies, what was issued to it, what it tells other
steps. Entry form, page, list, printed record, blank sheet, the loader's columns, links and the range checks all follow
from it, and no room beside `steps` knows a step by name.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property

from batches.sheets.cautions import Caution
from batches.sheets.comes_back import ComesBack
from batches.sheets.counted import Counted, CountedBy
from batches.sheets.declared import (
    BottlesLeave,
    Chart,
    Cleans,
    Distils,
    DueBy,
    Event,
    Field,
    Kind,
    Leaves,
    Note,
    Posting,
    Problem,
    Role,
    Running,
    StockTaken,
    ToldBy,
    Works,
)
from batches.sheets.gauges import By, Gauge
from batches.sheets.materials.declared import Material
from batches.sheets.of_casks import OfCasks
from batches.sheets.parts import Moment, Phase, Rows, Section, Written
from batches.sheets.proofs import Proof
from batches.sheets.results import Makes
from batches.stores.kinds import MaterialKind
from distillery.charts.pictures import Drawn

__all__ = [
    "STANDING_CAUTION",
    "BottlesLeave",
    "By",
    "Chart",
    "Cleans",
    "Counted",
    "CountedBy",
    "Distils",
    "DueBy",
    "Event",
    "Field",
    "Gauge",
    "Kind",
    "Leaves",
    "Material",
    "MaterialKind",
    "Moment",
    "Note",
    "OfCasks",
    "Phase",
    "Posting",
    "Problem",
    "Proof",
    "Role",
    "Rows",
    "Running",
    "Section",
    "Sheet",
    "StockTaken",
    "ToldBy",
    "Works",
]

STANDING_CAUTION = (
    "Your site's own risk assessment, the local codes and licensed practice come first; "
    "this note is not a safe way of working in itself."
)


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """One step. `kind` is its name in code, `operation` its name in the books, `table` its file in the log.

    `prefix` and `digits` make its numbers; `number_column` is the log's column for them, empty where the log
    has none (then `identity` names the fields that tell one record from another). `book_of` names the field
    of a cask whose book the posting reads: it is posted anew when that book changes before it. `check` says
    what only the whole sheet can tell, `check_on_page` what whoever writes on a page may not leave as it is, while a
    log that came without it is taken in; `keep` writes what the step changes about the plant itself.

    `second_where` names a field: a sheet on which something stands there waits for a second person, any other does not.
    `signs`: whoever saves it at a shared PC types the PIN again. `after` is the kind of the step that stands before it
    in the order of the process. `occupies` names the field of a vessel that holds this record and no other from its
    first moment to its last. `works_in` is a washback that holds its work until it is declared. `works_contents`: it
    works all that a vessel holds, so that a trace leads through it. `cleans`: it leaves a vessel clean.
    `fills_bottles`: bottled stock comes from it, and `checked_strength` is the field of what checks found of its
    strength; `bottles_leave`: bottled stock leaves the site by it; `leaves`: alcohol does, whatever it was held in;
    `takes_bottles`: bottles come back by it or are emptied again; `comes_back`: what a return says of them. `materials`
    are issued to it by lot, `receives` come into the stores by it, `counts` are found there by it. `tells` are the
    fields that other steps ask it for. `longest` is how long one usually takes at most. `traced_as` is what a trace
    calls its records, where not by kind. A log needs its table where `needed_in_log`; its table is one of the plant's
    where `in_plant`. `asks` are questions put to whoever writes on a page before it is kept, of text as well as of
    figures; tables are not asked. `ends_product` names the still whose product it ends, so that another may be charged.
    `results` are tables of what the step makes of what is written so far, at a moment, beside its books: what it comes
    to and what it asks for, shown and printed, posted never; what is beyond what the site looks into has a state.
    `proves` is what it says of its spirit for whoever makes something of it. `pictures`: what it draws of its readings
    besides those against time. `distils`: its records belong to distillation periods. `spans`: it is such a period from
    its first moment to its last, and this is the field of its class of spirits. `of_casks`: it says where casks lie,
    whose they are or what was seen of them; `of_warehouse` is the field of the warehouse it is about. `counted_by`:
    what a stock take counted of one thing is posted by it.
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
    cautions: tuple[Caution, ...] = ()
    list_columns: tuple[str, ...] = ()
    second_person: bool = False
    second_where: str = ""
    signs: bool = False
    book_of: str = ""
    after: str = ""
    occupies: str = ""
    works_in: Works | None = None
    works_contents: bool = False
    works_judged: str = ""
    cleans: Cleans | None = None
    materials: tuple[Material, ...] = ()
    receives: tuple[Material, ...] = ()
    counts: tuple[Material, ...] = ()
    tells: tuple[str, ...] = ()
    chart: Chart | None = None
    distils: Distils | None = None
    spans: str = ""
    of_casks: OfCasks | None = None
    of_warehouse: str = ""
    running: Running | None = None
    longest: timedelta = timedelta(days=60)
    takes_stock: StockTaken | None = None
    fills_bottles: bool = False
    checked_strength: str = ""
    bottles_leave: BottlesLeave | None = None
    leaves: Leaves | None = None
    takes_bottles: bool = False
    comes_back: ComesBack | None = None
    counted_by: CountedBy | None = None
    traced_as: str = ""
    needed_in_log: bool = False
    in_plant: bool = False
    printed_title: str = ""
    check: Callable[[Written], list[Problem]] | None = None
    check_on_page: Callable[[Written], list[Problem]] | None = None
    note: Callable[[Written], list[Note]] | None = None
    asks: Callable[[Written], list[Note]] | None = None
    ends_product: str = ""
    results: tuple[Makes, ...] = ()
    proves: tuple[Proof, ...] = ()
    keep: Callable[[Written], None] | None = None
    pictures: Callable[[Written, datetime], Sequence[Drawn]] | None = None

    def __post_init__(self) -> None:
        names = [one.name for one in self.fields]
        if len(set(names)) != len(names):
            raise ValueError(f"A field of {self.kind} is declared twice: {names}")
        known = {*names, *(one.name for one in self.row_fields)}
        lots = (*self.materials, *self.receives, *self.counts)
        asked = {self.occupies, self.ends_product, self.second_where, *self.tells}
        asked |= {name for one in lots for name in (*one.fields, *one.blends)}
        asked |= {self.of_warehouse, *(self.of_casks.fields if self.of_casks else ())}
        asked |= {self.works_in.vessel} if self.works_in else set()
        asked |= {self.spans, *((self.distils.spirit, self.distils.wash_of) if self.distils else ())}
        asked |= {self.cleans.vessel, self.cleans.found} if self.cleans else set()
        asked |= {one.field for one in self.proves}
        if gone := self.bottles_leave:
            asked |= {gone.product, gone.bottles, gone.left_for}
        asked |= {self.counted_by.when, self.counted_by.item} if self.counted_by else set()
        if left := self.leaves:
            asked |= {left.left_for, left.consignee, left.document, *left.named}
        asked |= {self.checked_strength}
        asked |= set(self.comes_back.fields) if self.comes_back else set()
        asked |= {name for one in self.moments for name in one.only_with}
        asked |= {one.due_by.occasion for one in self.moments if one.due_by}
        if unknown := asked - known - {""}:
            raise ValueError(f"{self.kind} declares something of fields it does not have: {sorted(unknown)}")
        ends = {self.moments[0].name, self.moments[-1].name}
        if any(one.optional and one.name in ends for one in self.moments):
            raise ValueError(f"{self.kind} has to be begun and ended; only what comes between may never come.")
        if self.moments[0].only_with:
            raise ValueError(f"{self.kind} has to be begun, whatever is written on it.")
        if unknown := {one.then for one in self.gauges} - known - {""}:
            raise ValueError(f"{self.kind} gauges another vessel by fields it does not have: {sorted(unknown)}")
        for one in (one for one in self.gauges if one.same_as):
            own = {other.prefix for other in self.gauges}
            if (one.same_of and one.same_of not in known) or (not one.same_of and one.same_as not in own):
                raise ValueError(f"{self.kind} declares {one.prefix} the same as a gauge it does not have.")
        if self.chart and not {self.chart.quantity, self.chart.beside or self.chart.quantity} <= {
            one.name for one in self.readings
        }:
            raise ValueError(f"{self.kind} draws something that is not read along the way.")
        if self.running is not None:
            self._know(self.running)

    def _know(self, running: Running) -> None:
        """Raises ValueError where what is said of running names something the sheet does not have."""
        events = {one.name for one in running.events}
        if running.product and not self.has_field(running.product):
            raise ValueError(f"{self.kind} makes something that stands in no field of it: {running.product}")
        for one in running.events:
            named = {one.when, *one.figures, one.plan, one.planned, one.into, one.instead_of, running.into} - {""}
            unknown = {name for name in named if not self.has_field(name)} | ({one.after} - events - {""})
            unknown |= {one.moment} - {moment.name for moment in self.moments if moment.when == one.when} - {""}
            if one.again and not (one.says and self.reading(one.again)):
                unknown.add(one.again)
            if unknown or bool(one.when) == bool(one.again):
                raise ValueError(f"The event {one.name} of {self.kind} has no place on the sheet: {sorted(unknown)}")

    @cached_property
    def fields(self) -> tuple[Field, ...]:
        """All fields that stand once on the sheet, in order."""
        return tuple(one for section in self.sections for one in section.fields)

    @property
    def caution(self) -> str:
        """All its cautions in full with the standing sentence behind them; blank where it has none."""
        return " ".join((*(one.sentence for one in self.cautions), STANDING_CAUTION)) if self.cautions else ""

    @cached_property
    def keeps_stock(self) -> bool:
        """True where it receives, issues or counts materials by lot."""
        return bool(self.receives or self.counts) or any(one.is_stock for one in self.materials)

    @property
    def declares(self) -> bool:
        """True where it brings alcohol into the books or moves it."""
        return any(moment.post is not None for moment in self.moments)

    def asks_second(self, typed: Mapping[str, str]) -> bool:
        """True where what is typed waits for a second person before it counts."""
        return self.second_person or bool(self.second_where and typed.get(self.second_where, "").strip())

    @property
    def sets_up(self) -> bool:
        """True for what is written once, when the books open, and no part of a day's work."""
        return all(moment.phase == Phase.OPENING for moment in self.moments)

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

    def is_done(self, moments: Collection[Moment], typed: Mapping[str, str]) -> bool:
        """True where nothing is left to come but what may never come, or does not come to what is written."""
        return all(one.optional or one in moments or not one.comes(typed) for one in self.moments)

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
