"""A trace as a flow: what lies behind to the left, what was asked about, what came of it to the right.

Columns are kinds of record in the order of the process; those behind a cask stand behind its column. What goes round
again, as feints do, is not drawn twice: the lists have each passing. The smallest of a crowded column are one place
that opens.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from django.urls import reverse
from django.utils.http import urlencode
from django.utils.safestring import SafeString

from batches.models import Record
from batches.pages.tracing.names import kind_name, trace_address
from batches.sheets.register import all_sheets
from batches.tracing.references import Reference, traced_kind
from batches.tracing.trace import Trace
from distillery import figures
from distillery.charts.flow import FlowBand, FlowColumn, FlowPlace, flow_chart
from distillery.plant.models import Kind as VesselKind
from ledger.models import Account

# More places than this in a column are folded, and so are smaller shares than the drawing could show.
MOST: Final = 12
MOST_OPENED: Final = 60
LEAST: Final = 0.0005
# Columns that stand side by side on paper.
ACROSS: Final = 7
ASKED, UNKNOWN = "asked", "unknown"
BEHIND, AHEAD = "behind", "ahead"
CASK, VESSEL, STOCK, NOT_KNOWN = "Cask", "Vessel", "Bottled stock", "Not known"
LAST: Final = 1_000.0
# A column: whether it stands behind one of casks, its place in the order of the process, its title.
_Column = tuple[bool, float, str]


@dataclass(slots=True)
class _Side:
    """Places of one side of a trace by their keys, and what passes between them, as shares of all."""

    name: str
    titles: dict[str, tuple[float, str]] = field(default_factory=dict)
    labels: dict[str, str] = field(default_factory=dict)
    shares: dict[str, float] = field(default_factory=lambda: defaultdict(float))
    bands: dict[tuple[str, str], float] = field(default_factory=lambda: defaultdict(float))

    def place(self, key: str, order: float, title: str, label: str) -> None:
        """Puts a place into the column of an order and title, called by its number."""
        self.titles[key] = order, title
        self.labels[key] = label

    def settle(self) -> None:
        """Casks and stocks stand behind all that goes into them; vessels that hold some of it now come last."""
        into: dict[str, float] = defaultdict(lambda: -1.0)
        for giver, taker in self.bands:
            if taker in self.titles and self.titles[taker][1] in (CASK, STOCK):
                title = self.titles[taker][1]
                order = self.titles.get(giver, (-1.0, ""))[0]
                into[title] = max(into[title], order if order < LAST else -1.0)
        for key, (_order, title) in self.titles.items():
            if title in into:
                self.titles[key] = into[title] + 0.5, title


def flow_of(trace: Trace, opened: Collection[str], here: str) -> SafeString:
    """The drawing of a trace. `opened` are columns that show more; `here` is the page's address."""
    columns, bands = _laid(trace, opened, here, (BEHIND, AHEAD))
    return _chart(trace, columns, bands, "flow") if len(columns) > 1 else SafeString("")


def strips_of(trace: Trace, side: str) -> list[SafeString]:
    """One side of a trace as drawings that a page of paper is wide enough for; each goes on with the last column of the
    one before. What passes from one over to another is not joined.
    """
    columns, bands = _laid(trace, (), "", (side,))
    if len(columns) < 2:
        return []
    cut = range(0, len(columns) - 1, ACROSS - 1)
    return [_chart(trace, columns[at : at + ACROSS], bands, f"flow-{side}-{at}") for at in cut]


def _laid(
    trace: Trace, opened: Collection[str], here: str, sides: Collection[str]
) -> tuple[list[FlowColumn], list[FlowBand]]:
    named = _Named.of(trace)
    columns: list[FlowColumn] = []
    bands: list[FlowBand] = []
    if BEHIND in sides:
        _lay(_behind(trace, named), trace.behind_ul, opened, here, columns, bands)
    columns.append(_asked(trace, named))
    if AHEAD in sides:
        _lay(_ahead(trace, named), trace.ahead_ul, opened, here, columns, bands)
    return columns, bands


def _chart(trace: Trace, columns: Sequence[FlowColumn], bands: Sequence[FlowBand], name: str) -> SafeString:
    places = sum(len(one.places) for one in columns)
    return flow_chart(
        columns,
        bands,
        name=name,
        title=f"Trace of {trace.start.ref}",
        description=f"{places} places in {len(columns)} columns, from left to right in the order of the process. "
        "The lists below have the same figures.",
    )


@dataclass(frozen=True, slots=True)
class _Named:
    """Records and accounts of a trace, as they are called; columns in the order of the process."""

    records: Mapping[int, tuple[str, str]]
    accounts: Mapping[int, Account]
    order: Mapping[str, int]
    titles: Mapping[str, str]

    @classmethod
    def of(cls, trace: Trace) -> _Named:
        records = {pk for one in (trace.behind.parts, trace.ahead.amounts) for pk in one} | set(trace.start.records)
        accounts = {way[2] for ways in (trace.behind.ways, trace.ahead.ways) for way in ways if way[2] is not None}
        rows = Record.objects.all() if len(records) > 5_000 else Record.objects.filter(pk__in=records)
        return cls(
            {pk: (kind, number) for pk, kind, number in rows.values_list("pk", "kind", "number")},
            Account.objects.select_related("vessel").in_bulk(accounts | set(trace.held)),
            {sheet.kind: place for place, sheet in enumerate(all_sheets())},
            {sheet.kind: kind_name(traced_kind(sheet.kind)) for sheet in all_sheets()},
        )

    def is_cask(self, account: int | None) -> bool:
        vessel = self.accounts[account].vessel if account is not None else None
        return vessel is not None and vessel.kind == VesselKind.CASK

    def put(self, side: _Side, record: int) -> str:
        """The place of a record."""
        key = f"{side.name}-{record}"
        if key not in side.titles:
            kind, number = self.records[record]
            side.place(key, self.order[kind], self.titles[kind], number)
        return key

    def put_account(self, side: _Side, account: int) -> str:
        """The place of a cask, a vessel or a stock; where its column stands is known when all are there."""
        key = f"{side.name}-account-{account}"
        if key not in side.titles:
            held = self.accounts[account]
            if held.vessel is None:
                side.place(key, LAST, STOCK, held.code.removeprefix("stock:"))
            else:
                side.place(key, LAST, CASK if held.vessel.kind == VesselKind.CASK else VESSEL, held.vessel.code)
        return key


def _behind(trace: Trace, named: _Named) -> _Side:
    side, own = _Side(BEHIND), set(trace.start.records)
    ways = [(giver, taker, account, share) for (giver, taker, account), share in trace.behind.ways.items()]
    if trace.start.account is not None:
        ways += [(giver, 0, None, share) for giver, share in trace.behind.starts.items()]
    _join(side, named, ways, own)
    for one in trace.not_known:
        side.place(UNKNOWN, -1.0, NOT_KNOWN, NOT_KNOWN)
        side.shares[UNKNOWN] += one.share
        at = ASKED if one.record_id is None or one.record_id in own else f"{BEHIND}-{one.record_id}"
        side.bands[UNKNOWN, at] += one.share
    side.settle()
    return side


def _ahead(trace: Trace, named: _Named) -> _Side:
    side, whole = _Side(AHEAD), trace.ahead_ul or 1.0
    ways = [(giver, taker, account, pure / whole) for (giver, taker, account), pure in trace.ahead.ways.items()]
    own = set(trace.start.records)
    _join(side, named, ways, own)
    for account, by_giver in trace.held.items():
        for giver, pure in by_giver.items():
            key = named.put_account(side, account)
            at = ASKED if giver in own else named.put(side, giver)
            side.bands[at, key] += pure / whole
            side.shares[key] += pure / whole
    side.settle()
    return side


def _join(side: _Side, named: _Named, ways: Iterable[tuple[int, int, int | None, float]], own: Collection[int]) -> None:
    """Puts in what passed between records, by way of a cask where it lay in one; 0 stands for what was asked about."""

    def key(record: int) -> str:
        return ASKED if not record or record in own else named.put(side, record)

    for giver, taker, account, share in ways:
        first, last = key(giver), key(taker)
        side.shares[first if side.name == BEHIND else last] += share
        if giver and account is not None and named.is_cask(account):
            cask = named.put_account(side, account)
            side.shares[cask] += share
            side.bands[first, cask] += share
            first = cask
        side.bands[first, last] += share


def _lay(
    side: _Side, whole_ul: float, opened: Collection[str], here: str, columns: list[FlowColumn], bands: list[FlowBand]
) -> None:
    """Columns and bands of one side, the smallest places of a crowded column folded into one."""
    matured = _behind_a_cask(side)
    column_of = {key: (key in matured, order, title) for key, (order, title) in side.titles.items()}
    by_column: dict[_Column, list[str]] = defaultdict(list)
    for key, column in column_of.items():
        by_column[column].append(key)
    folded: dict[str, str] = {}
    for column in _in_order(side, column_of):
        (after, _order, title), keys = column, by_column[column]
        name = f"{side.name}-{title}{' again' if after else ''}".lower().replace(" ", "-")
        ranked = sorted(keys, key=lambda key: (-side.shares[key], side.labels[key]))
        most = MOST_OPENED if name in opened else MOST
        # What is too small to draw is folded too, but never all there is.
        seen = sum(side.shares[key] >= LEAST for key in ranked) if name not in opened else len(ranked)
        kept, rest = _parted(ranked, most, max(seen, 1))
        # In the order of their numbers, which is that of time, each keeps its place whatever its share.
        places = [_place(side, key, whole_ul) for key in sorted(kept, key=lambda key: side.labels[key])]
        if rest:
            more = f"{name}-more"
            folded |= dict.fromkeys(rest, more)
            share = sum(side.shares[key] for key in rest)
            href = "#behind-caption" if side.name == BEHIND else "#ahead-caption"
            if name not in opened:
                href = f"{here}&{urlencode({'open': name})}#flow"
            places.append(FlowPlace(more, f"{len(rest)} more", _amount(share, whole_ul), share, href, "more"))
        columns.append(FlowColumn(title, tuple(places)))
    joined: dict[tuple[str, str], float] = defaultdict(float)
    for (giver, taker), share in side.bands.items():
        joined[folded.get(giver, giver), folded.get(taker, taker)] += share
    bands += [FlowBand(giver, taker, share) for (giver, taker), share in joined.items()]


def _in_order(side: _Side, column_of: Mapping[str, _Column]) -> list[_Column]:
    """The columns in the order of the process, but none before one that gives it more than it takes from it.

    What is vatted may come from a still or out of casks. Where that goes round, the order of the process stands.
    """
    passed: dict[tuple[_Column, _Column], float] = defaultdict(float)
    for (giver, taker), share in side.bands.items():
        if giver in column_of and taker in column_of:
            passed[column_of[giver], column_of[taker]] += share
    waiting, found = sorted(set(column_of.values())), []
    while waiting:
        free = (one for one in waiting if not any(passed[other, one] > passed[one, other] for other in waiting))
        found.append(next(free, waiting[0]))
        waiting.remove(found[-1])
    return found


def _parted(ranked: list[str], most: int, seen: int) -> tuple[list[str], list[str]]:
    """What is shown by itself, and what is folded; a single one is not folded."""
    shown = min(seen, most if len(ranked) <= most else most - 1)
    return (ranked, []) if len(ranked) - shown <= 1 and len(ranked) <= most else (ranked[:shown], ranked[shown:])


def _place(side: _Side, key: str, whole_ul: float) -> FlowPlace:
    label = side.labels[key]
    href = "#not-known" if key == UNKNOWN else trace_address(label)
    share = side.shares[key]
    return FlowPlace(key, label, _amount(share, whole_ul), share, href, "not known" if key == UNKNOWN else "")


def _amount(share: float, whole_ul: float) -> str:
    part = f"{figures.percent(100 * share)} %"
    return f"{figures.lpa(round(share * whole_ul))} LPA, {part}" if whole_ul else part


def _behind_a_cask(side: _Side) -> set[str]:
    """Places that are reached by way of a cask: a transfer out of one is no earlier step than the cask."""
    ahead: dict[str, set[str]] = defaultdict(set)
    for giver, taker in side.bands:
        ahead[giver].add(taker)
    casks = [key for key, (_order, title) in side.titles.items() if title == CASK]
    found: set[str] = set()
    waiting = [taker for cask in casks for taker in ahead[cask]]
    while waiting:
        key = waiting.pop()
        if key not in found and key != ASKED:
            found.add(key)
            waiting += ahead[key]
    return found


def _asked(trace: Trace, named: _Named) -> FlowColumn:
    """What was asked about, in the middle: one place, however many records a lot is named by."""
    start = trace.start
    ul = trace.behind_ul or trace.ahead_ul
    amount = f"{figures.lpa(round(ul))} LPA" if ul else ""
    if len(start.records) > 1:
        amount = f"{len(start.records)} records, {amount}" if amount else f"{len(start.records)} records"
    place = FlowPlace(ASKED, start.ref, amount or "no alcohol yet", 1.0, _own_address(start, named), "asked")
    return FlowColumn(_own_title(start, named), (place,))


def _own_title(start: Reference, named: _Named) -> str:
    if start.is_record:
        return kind_name(traced_kind(named.records[start.records[0]][0]))
    return start.what.capitalize()


def _own_address(start: Reference, named: _Named) -> str:
    """The page of what was asked about itself, where it has one."""
    if start.is_record:
        return reverse("record", args=list(named.records[start.records[0]]))
    return ""
