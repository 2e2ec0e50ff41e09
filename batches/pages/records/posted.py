"""What a record posted, as parts of its page: movements with their legs, differences, gauges, duty.

Some dozen and a half queries, however many moments and casks the record has.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from batches.models import Mention, Record
from batches.pages.records.balance import RecordBalance, balance_of
from batches.pages.records.chains import ShownMeasured, shown_flow, shown_gauge
from batches.pages.records.shown import gauge_label, movement_address
from batches.sheets.sheet import Sheet
from batches.sheets.site import Site
from distillery import figures, pages
from ledger.comparing.observations.standing_figures import Uncertainties, uncertainties_in
from ledger.comparing.unaccounted import GaugeFound, found_by_record, left_by_rows
from ledger.models import Account, AccountKind, Gauge, Leg, MeasuredFlow, Movement, MovementKind
from ledger.posting.accounts import GAUGING, VESSEL_ACCOUNT, gauging_of
from ledger.posting.drafts import THE_BOOK
from ledger.posting.duties import duty_now
from ledger.posting.gauging import Method
from ledger.views.left_facts import found_facts, left_facts
from ledger.views.ways import account_href

# Longer ones, such as a fill of forty casks, scroll in a frame of their own.
MANY_LEGS = 24
NOT_KNOWN = "not known"


@dataclass(frozen=True, slots=True)
class ShownMovement:
    """A movement's legs, and the way to its own page."""

    key: str
    table: pages.Table
    link: pages.Link


@dataclass(frozen=True, slots=True)
class Books:
    """What of a record stands in the books.

    `happened` has when each of its operations truly did, `uncertainties` those of its readings.
    """

    happened: tuple[datetime, ...]
    uncertainties: Uncertainties
    movements: tuple[ShownMovement, ...]
    struck: tuple[pages.Link, ...]
    measured: tuple[ShownMeasured, ...]
    balance: RecordBalance
    differences: tuple[pages.Fact, ...]
    duty: pages.Table | None


def books_of(record: Record, sheet: Sheet, site: Site) -> Books:
    """Reads the movements of a record."""
    movements = list(
        Movement.objects.filter(record_kind=record.kind, record_number=record.number)
        .select_related("person")
        .prefetch_related("legs__account", "duties")
        .order_by("happened_at", "slot", "id")
    )
    struck = {one.corrects_id for one in movements if one.corrects_id is not None}
    standing = [one for one in movements if one.pk not in struck and not _is_opposite(one)]
    gauges, flows = _measured(standing)
    shown = _of_others(record, sheet, site) if standing else []
    shown += [shown_gauge(gauge, gauge_label(sheet, gauge.name), site) for gauge in gauges]
    shown += [
        shown_flow(flow, sheet.field(flow.name).label if sheet.has_field(flow.name) else sheet.title, site)
        for flow in flows
        if flow.method != Method.COUNT
    ]
    return Books(
        happened=tuple(one.took_place_at for one in standing if one.kind == MovementKind.OPERATION),
        uncertainties=uncertainties_in(
            [(record.number, one.chain) for one in gauges],
            [(record.number, one.taker.code, one.chain) for one in flows],
        ),
        movements=tuple(_shown(one, sheet) for one in standing),
        struck=tuple(
            pages.Link(
                f"Movement {one.pk}",
                movement_address(one),
                f"{_what(one)}, written {figures.moment(one.written_at)}{_carried(one)}",
            )
            for one in movements
            if one not in standing
        ),
        measured=tuple(shown),
        balance=balance_of(standing),
        differences=_differences(record, standing, gauges, flows),
        duty=duty_table(standing),
    )


def _of_others(record: Record, sheet: Sheet, site: Site) -> list[ShownMeasured]:
    """The gauges of other records that gauges of this one are, where they are left blank; each says whose it is."""
    blank = [one for one in sheet.gauges if one.same_of]
    typed = site.typed_of(record) if blank else {}
    found = []
    for one in blank:
        number = "" if any(typed.get(field.name) for field in one.fields) else _mentioned(record, one.same_of)
        if not number:
            continue
        gauge = (
            Gauge.objects.standing()
            .filter(movement__record_number=number, name=one.same_as)
            .select_related("account__vessel__cask")
            .last()
        )
        if gauge is not None:
            found.append(shown_gauge(gauge, f"{one.label}, gauge of {number}", site))
    return found


def _mentioned(record: Record, field: str) -> str:
    """The number of the record that a field names, or ''."""
    mentions = record.mentions.filter(what=Mention.What.RECORD, field=field)
    return mentions.values_list("code", flat=True).first() or ""


def _measured(standing: Sequence[Movement]) -> tuple[list[Gauge], list[MeasuredFlow]]:
    """The gauges and measured flows of movements, in order of time, each with its movement and the accounts."""
    gauges = list(
        Gauge.objects.filter(movement__in=standing)
        .select_related("account__vessel__cask")
        .order_by("movement__happened_at", "movement__slot", "movement_id", "position")
    )
    flows = list(
        MeasuredFlow.objects.filter(movement__in=standing)
        .select_related("giver__vessel", "taker__vessel")
        .order_by("movement__happened_at", "movement__slot", "movement_id", "line")
    )
    by_number = {one.pk: one for one in standing}
    for measured in (*gauges, *flows):
        measured.movement = by_number[measured.movement_id]
    return gauges, flows


def _is_opposite(movement: Movement) -> bool:
    return movement.kind == MovementKind.CORRECTION and movement.corrects_id is not None


def _what(movement: Movement) -> str:
    return "takes back an earlier one" if _is_opposite(movement) else "taken back"


def _shown(movement: Movement, sheet: Sheet) -> ShownMovement:
    columns = (
        pages.Column("Account"),
        pages.Column("What"),
        pages.Column("In", numeric=True, unit="LPA"),
        pages.Column("Out", numeric=True, unit="LPA"),
    )
    rows = [
        pages.Row(
            [
                pages.Cell(leg.account.name, href=account_href(leg.account)),
                pages.Cell(leg.get_entry_display()),
                pages.Cell(figures.lpa(leg.pure_ul) if leg.pure_ul > 0 else ""),
                pages.Cell(figures.lpa(-leg.pure_ul) if leg.pure_ul < 0 else ""),
            ]
        )
        for leg in sorted(movement.legs.all(), key=lambda leg: (leg.position, leg.line))
    ]
    label = next((one.label for one in sheet.moments if one.name == movement.moment), movement.operation)
    table = pages.Table(
        f"{label}, {figures.moment(movement.took_place_at)}",
        columns,
        rows,
        empty="Nothing had to be moved: the gauges met the book.",
        wide=len(rows) > MANY_LEGS,
    )
    link = pages.Link(
        f"Movement {movement.pk}",
        movement_address(movement),
        f"written {figures.moment(movement.written_at)} by {movement.person.shown_name}{_carried(movement)}",
    )
    return ShownMovement(f"movement-{movement.pk}", table, link)


def _carried(movement: Movement) -> str:
    """Where the books carry what happened in a period closed before it was written."""
    if movement.true_at is None:
        return ""
    since = figures.moment(movement.happened_at, year=True)
    return f"; its period was closed, so the books carry it from {since}"


def differences_of(record: Record, standing: Sequence[Movement]) -> tuple[pages.Fact, ...]:
    """What its gauges found against the books, and what its operation left, with what that is judged against.

    Figures of the operation are those of `ledger.comparing.unaccounted`, as on every other page and on paper.
    """
    return _differences(record, standing, *_measured(standing))


def _differences(
    record: Record, standing: Sequence[Movement], gauges: Sequence[Gauge], flows: Sequence[MeasuredFlow]
) -> tuple[pages.Fact, ...]:
    sums: dict[str, int] = {}
    operation = ""
    for movement in standing:
        for leg in movement.legs.all():
            if leg.account.kind == AccountKind.DIFFERENCE and movement.kind != MovementKind.EXPLANATION:
                name = _difference_name(leg)
                sums[name] = sums.get(name, 0) + leg.pure_ul
                if not leg.account.code.startswith(GAUGING):
                    operation = name
    operations = [one for one in standing if one.kind == MovementKind.OPERATION]
    left = left_by_rows(operations, gauges, flows).get(record.number) if standing else None
    own = _judged_by_the_book(record, standing)
    found = [
        pages.Fact(name, figures.difference(pure), "LPA")
        for name, pure in sums.items()
        if name != operation and name not in own
    ]
    for name, one in own.items():
        found += found_facts(name, one)
    # What is judged against nothing, as a removal by dips, has a line only where it leaves something.
    if left is not None and (left.judged_against or left.difference_ul or left.explained_ul):
        found += left_facts(
            left.difference_ul,
            left.explained_ul,
            against=(left.judged_against, left.charge_ul),
            threshold_ul=left.threshold_ul,
            basis=left.basis,
            uncertainty_ul=left.uncertainty_ul,
            name=operation or left.operation.capitalize(),
        )
    elif operation:
        found.append(pages.Fact(operation, figures.difference(sums[operation]), "LPA"))
    return tuple(found)


def _judged_by_the_book(record: Record, standing: Sequence[Movement]) -> dict[str, GaugeFound]:
    """What the gauges of a stock take found, vessel by vessel, by what each difference is called."""
    if all(one.judged_against != THE_BOOK for one in standing):
        return {}
    found = found_by_record(record.number)
    codes = {f"{VESSEL_ACCOUNT}{one.vessel}" for one in found}
    names = {one.code: gauging_of(one).name for one in Account.objects.filter(code__in=codes)}
    return {_called(names[f"{VESSEL_ACCOUNT}{one.vessel}"]): one for one in found}


def _difference_name(leg: Leg) -> str:
    return _called(leg.account.name)


def _called(account: str) -> str:
    name = account.removeprefix("difference, ")
    return name[:1].upper() + name[1:]


def duty_table(standing: Sequence[Movement]) -> pages.Table | None:
    """The duty on each line that left, with tax type, rate and source; None where none is due."""
    duties = [duty_now(duty, movement) for movement in standing for duty in movement.duties.all()]
    if not duties:
        return None
    columns = (
        pages.Column("Removal"),
        pages.Column("Tax type"),
        pages.Column("Strength", numeric=True, unit="% vol"),
        pages.Column("Pure alcohol", numeric=True, unit="LPA"),
        pages.Column("Rate", numeric=True, unit="£ per LPA"),
        pages.Column("Duty", numeric=True, unit="£"),
        pages.Column("Source"),
    )
    rows = [
        pages.Row(
            [
                pages.Cell(duty.removal),
                pages.Cell(duty.tax_type or NOT_KNOWN),
                pages.Cell(figures.percent(duty.percent)),
                pages.Cell(figures.lpa(duty.pure_ul, 4)),
                pages.Cell(
                    NOT_KNOWN
                    if duty.rate_pence_hundredths is None
                    else figures.number(Decimal(duty.rate_pence_hundredths) / 10_000, 2)
                ),
                pages.Cell(NOT_KNOWN if duty.pence is None else figures.pounds(duty.pence)),
                pages.Cell(f"Entered since the removal: {duty.source}" if duty.since else duty.source),
            ]
        )
        for duty in duties
    ]
    return pages.Table("Duty", columns, rows, empty="None.")
