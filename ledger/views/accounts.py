"""A vessel's account with its running balance, the list of accounts, and a single movement with its seal."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.http import urlencode

from distillery import figures
from distillery.figures import SIGNED, litres, lpa, moment, percent, span
from distillery.pages import BalanceLine, Cell, Column, Fact, Row, State, Table, late
from distillery.pages import Kind as Mark
from distillery.plant.models import MICRO, Kind
from ledger.enquiries.standing import of_account
from ledger.models import Account, AccountKind, Entry, Gauge, Movement
from ledger.proof.chain import link_of, seal_holds
from ledger.proof.clock_back import ran_back
from ledger.statements.balances import AccountLine, account_page, account_totals, gauges_of, opening_of
from ledger.statements.month import NoSuchPeriod, bounds, known_periods
from ledger.views.enquiries.parts import enquiry_link
from ledger.views.ways import SIGN_OF_DIFFERENCE, account_href, books_places, movement_cell, record_href, short

WHAT = {
    Entry.FLOW: "",
    Entry.GAUGING: "Found at the gauge",
    Entry.LOSS: "Known loss",
    Entry.DIFFERENCE: "Difference",
}


def vessel_account(request: HttpRequest, code: str) -> HttpResponse:
    """One account over a month: balance line, entries with running balance, gauges."""
    account = Account.objects.select_related("vessel").filter(code=f"vessel:{code}").first()
    if account is None:
        account = get_object_or_404(Account, code=code)
    periods = known_periods()
    period = request.GET.get("month") or (periods[0] if periods else "")
    if not period:
        raise Http404("Nothing has been posted yet.")
    try:
        since, until = bounds(period)
        page = account_page(
            account,
            since=since,
            until=until,
            before=request.GET.get("before", ""),
            after=request.GET.get("after", ""),
        )
    except (NoSuchPeriod, ValueError) as unknown:
        raise Http404(str(unknown)) from unknown
    opening, totals = opening_of(account, period), account_totals(account, period)
    should_be = opening + totals["in"] - totals["out"] - totals["loss"]
    line = BalanceLine(
        opening_ul=opening,
        in_ul=totals["in"],
        out_ul=totals["out"],
        known_losses_ul=totals["loss"],
        should_be_ul=should_be,
        measured_ul=should_be - totals["difference"],
        difference_ul=totals["difference"],
        note=SIGN_OF_DIFFERENCE,
    )
    here = reverse("vessel_account", kwargs={"code": code})
    return render(
        request,
        "ledger/vessel_account.html",
        {
            "area": "books",
            "density": "paper",
            "places": books_places("accounts"),
            "account": account,
            "is_boundary": account.kind not in (AccountKind.VESSEL, AccountKind.STOCK),
            "is_cask": account.vessel is not None and account.vessel.kind == Kind.CASK,
            "code": short(account),
            "period": period,
            "periods": periods,
            "line": line,
            "table": _entries(page.lines),
            "gauges": _gauges(gauges_of(account, limit=12)),
            "enquiries": [enquiry_link(one) for one in of_account(account, period)],
            "older": f"{here}?{urlencode({'month': period, 'before': page.older})}" if page.older else "",
            "newer": f"{here}?{urlencode({'month': period, 'after': page.newer})}" if page.newer else "",
        },
    )


def _entries(lines: tuple[AccountLine, ...]) -> Table:
    return Table(
        caption="Entries",
        note="litres of pure alcohol, in the order in which things happened",
        columns=(
            Column("Happened"),
            Column("Written"),
            Column("What"),
            Column("Record"),
            Column("Other side"),
            Column("In", numeric=True),
            Column("Out", numeric=True),
            Column("Balance", numeric=True),
            Column("Movement", numeric=True),
        ),
        rows=[Row(_entry(line)) for line in lines],
        empty="No entries in this month.",
        wide=True,
    )


def _entry(line: AccountLine) -> list[Cell]:
    leg, movement = line.leg, line.leg.movement
    what = WHAT[Entry(leg.entry)] or movement.operation.capitalize()
    state = None
    if movement.corrects_id:
        state = State(Mark.STRUCK, f"takes back {movement.corrects_id}")
    elif line.is_struck:
        state = State(Mark.STRUCK, "struck")
    elif movement.restates_id:
        what = "Gauging restated"
    written = movement.written_at
    return [
        Cell(moment(leg.happened_at, year=True), state=_from_closed(movement)),
        Cell(
            f"{moment(written, year=True)} {movement.person.shown_name}",
            state=late(span(written - movement.took_place_at)) if line.is_late else None,
        ),
        Cell(what, state=state),
        Cell(movement.record_number, href=record_href(movement.record_kind, movement.record_number)),
        Cell(leg.other.name, href=account_href(leg.other)) if leg.other else Cell("Several"),
        Cell(lpa(leg.pure_ul) if leg.pure_ul > 0 else "-"),
        Cell(lpa(-leg.pure_ul) if leg.pure_ul < 0 else "-"),
        Cell(lpa(line.balance_ul)),
        movement_cell(movement),
    ]


def _from_closed(movement: Movement) -> State | None:
    if movement.true_at is None:
        return None
    return State(Mark.LOCKED, f"of {moment(movement.true_at, year=True)}")


def _gauges(gauges: list[Gauge]) -> Table:
    return Table(
        caption="Gauges",
        note="newest first; ± is two standard uncertainties",
        columns=(
            Column("Happened"),
            Column("Record"),
            Column("Bulk at 20 °C", numeric=True, unit="L"),
            Column("Strength", numeric=True, unit="% vol"),
            Column("Alcohol", numeric=True, unit="LPA"),
            Column("±", numeric=True, unit="LPA"),
            Column("Book it met", numeric=True, unit="LPA"),
            Column("Found", numeric=True, unit="LPA"),
        ),
        rows=[
            Row(
                [
                    Cell(moment(gauge.happened_at, year=True)),
                    Cell(
                        gauge.movement.record_number,
                        href=record_href(gauge.movement.record_kind, gauge.movement.record_number),
                    ),
                    Cell(litres(gauge.litres20_ul / MICRO)),
                    Cell(percent(gauge.percent20_millionths / MICRO) if gauge.pure_ul else "Empty"),
                    Cell(lpa(gauge.pure_ul)),
                    Cell(lpa(2 * gauge.uncertainty_ul)),
                    Cell(lpa(gauge.book_ul)),
                    Cell(
                        lpa(gauge.pure_ul - gauge.book_ul, style=SIGNED) if gauge.role == "before" else "Closing gauge"
                    ),
                ]
            )
            for gauge in gauges
        ],
        empty="Not gauged yet.",
        wide=True,
    )


def accounts(request: HttpRequest) -> HttpResponse:
    """Every account but the casks, with what it holds or has passed."""
    rows = (
        Account.objects.exclude(vessel__kind=Kind.CASK)
        .select_related("vessel", "balance")
        .order_by("kind", "vessel__order", "name")
    )
    table = Table(
        caption="All accounts",
        note="casks are in the warehouse",
        columns=(Column("Account"), Column("Kind"), Column("Stage"), Column("Balance", numeric=True, unit="LPA")),
        rows=[
            Row(
                [
                    Cell(account.name, href=account_href(account)),
                    Cell(account.get_kind_display()),
                    Cell(account.get_stage_display() or "Several"),
                    Cell(lpa(account.balance.balance_ul) if hasattr(account, "balance") else lpa(0)),
                ]
            )
            for account in rows
        ],
        empty="No account has been opened: nothing has been posted yet.",
    )
    shown = {"area": "books", "density": "paper", "places": books_places("accounts"), "table": table}
    return render(request, "ledger/accounts.html", shown)


def movement(request: HttpRequest, number: int) -> HttpResponse:
    """One movement: its legs, its seal, what it corrects or restates, and whether the seal still holds."""
    found = get_object_or_404(
        Movement.objects.select_related("person", "second", "corrects", "restates__movement"), pk=number
    )
    link = link_of(found)
    facts = [
        Fact("Record", found.record_number, href=record_href(found.record_kind, found.record_number)),
        Fact("Happened", moment(found.took_place_at, year=True)),
        *_carried(found),
        Fact(
            "Written",
            f"{moment(found.written_at, year=True)} by {found.person.shown_name}",
            note=_clock_ran_back(found),
        ),
        Fact("Month", found.period),
    ]
    if found.second is not None:
        facts.append(Fact("Second person", found.second.shown_name))
    if found.reason:
        facts.append(Fact("Reason", found.reason))
    facts += _neighbours(found)
    return render(
        request,
        "ledger/movement.html",
        {
            "area": "books",
            "density": "paper",
            "places": books_places("accounts"),
            "movement": found,
            "facts": facts,
            "seal_holds": seal_holds(link),
            "table": Table(
                caption="Legs",
                note="they sum to nothing",
                columns=(
                    Column("Account"),
                    Column("Stage"),
                    Column("Entry"),
                    Column("In", numeric=True, unit="LPA"),
                    Column("Out", numeric=True, unit="LPA"),
                    Column("Mass", numeric=True, unit="kg"),
                ),
                rows=[
                    Row(
                        [
                            Cell(leg.account.name, href=account_href(leg.account)),
                            Cell(leg.get_stage_display() or "None"),
                            Cell(leg.get_entry_display()),
                            Cell(lpa(leg.pure_ul, 4) if leg.pure_ul > 0 else "-"),
                            Cell(lpa(-leg.pure_ul, 4) if leg.pure_ul < 0 else "-"),
                            Cell(figures.kilograms(leg.mass_g, 3)),
                        ]
                    )
                    for leg in link.legs
                ],
                empty="The gauges of this movement met their books exactly: no alcohol moved.",
            ),
        },
    )


def _clock_ran_back(found: Movement) -> str:
    before = Movement.objects.filter(pk=found.pk - 1).values_list("written_at", flat=True).first()
    if before is None or not ran_back(before, found.written_at):
        return ""
    return f"before the movement before it ({moment(before, year=True)}): the clock ran back"


def _carried(found: Movement) -> list[Fact]:
    if found.true_at is None:
        return []
    note = "its own period was closed when this was written"
    return [Fact("In the books from", moment(found.happened_at, year=True), note=note)]


def _neighbours(found: Movement) -> list[Fact]:
    facts = []
    if found.corrects is not None:
        facts.append(_to("Takes back", found.corrects))
    if found.restates is not None:
        facts.append(_to("Restates what was found by", found.restates.movement))
    facts += [_to("Taken back by", other) for other in found.corrections.all()]
    return facts


def _to(label: str, other: Movement) -> Fact:
    return Fact(label, f"movement {other.pk}", href=reverse("movement", kwargs={"number": other.pk}))
