"""The books: months, and one month's account on screen and paper."""

from __future__ import annotations

from collections.abc import Callable

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.utils import timezone

from distillery.figures import ROUNDING, SIGN_OF_DIFFERENCE, difference, lpa, moment, pounds
from distillery.lists.showing import first_file, listed
from distillery.pages import LOOK, BalanceLine, Cell, Column, Row, Table
from distillery.people.models import Person
from distillery.people.roles import holds
from distillery.plant.models import Stage
from ledger.comparing.findings.untimely import entries_ahead
from ledger.enquiries.looking import try_month
from ledger.enquiries.standing import UNANSWERED, by_key, of_period
from ledger.periods.crossing import Crossing, carried_into, crossings
from ledger.periods.words import closed_in_words
from ledger.proof.clock_back import lately
from ledger.statements.at_work import contents_of
from ledger.statements.balances import Holding
from ledger.statements.month import MonthAccount, NoSuchPeriod, RemovalLine, StageLine, month_account
from ledger.statements.printed import month_account_pdf
from ledger.views.lists.findings import OTHERS, OTHERS_NOTE, EnquiryTable, FindingTable, others_of, shown
from ledger.views.months.closing import period_table
from ledger.views.months.crossed import crossed_tables
from ledger.views.proof.trail import READERS
from ledger.views.told_in_books import told_in_books
from ledger.views.ways import account_href, books_places, record_href

FIGURES = ("Opening", "In", "Out", "Known losses", "Should be", "Measured", "Difference")


def books(request: HttpRequest) -> HttpResponse:
    """The months there are, newest first, with who closed them."""
    return render(
        request,
        "ledger/books.html",
        {
            "area": "books",
            "density": "paper",
            "places": books_places("books"),
            "table": period_table(),
            "ran_back": lately(),
            "ahead": entries_ahead(),
            "told": told_in_books(),
            "reads_trail": holds(request.user, READERS),
        },
    )


def _account(period: str) -> MonthAccount:
    try:
        return month_account(period)
    except NoSuchPeriod as unknown:
        raise Http404(str(unknown)) from unknown


def month_page(request: HttpRequest, period: str) -> HttpResponseBase:
    """The account of one month."""
    account = _account(period)
    tried = try_month(period)
    open_findings = tried.findings
    site = account.site
    keys = {one.key for one in open_findings}
    under = {one.enquiry.key: one for one in of_period(period)}
    others = [one for key, one in under.items() if key not in keys and one.state in UNANSWERED]
    crossed = crossings(period)
    rows = shown(open_findings, period, under | by_key(keys - under.keys()))
    to_look_into = listed(request, FindingTable, rows, prefix="findings")
    under_it = listed(request, EnquiryTable, others_of(others), prefix="others", caption=OTHERS, note=OTHERS_NOTE)
    if (file := first_file(to_look_into, under_it)) is not None:
        return file
    return render(
        request,
        "ledger/month.html",
        {
            "area": "books",
            "density": "paper",
            "places": books_places("books"),
            "account": account,
            "not_compared": tried.not_compared,
            "being_compared": tried.is_behind,
            "name": account.name,
            "closed": closed_in_words(account.closing),
            "line": BalanceLine(
                opening_ul=site.opening_ul,
                in_ul=site.in_ul,
                out_ul=site.out_ul,
                known_losses_ul=site.loss_ul,
                should_be_ul=site.should_be_ul,
                measured_ul=site.closing_ul,
                difference_ul=site.difference_ul,
                state=LOOK if open_findings or others or tried.not_compared else None,
                note=f"{SIGN_OF_DIFFERENCE} {ROUNDING}",
            ),
            "stages": _stages(account),
            "losses": _pairs("Known losses by cause", "Cause", account.losses, "No known losses in this month."),
            "differences": _pairs(
                "Differences nobody has explained",
                "Where",
                account.differences,
                "No differences in this month.",
                written=difference,
            ),
            "duty_not_known": [sentence for removal in account.removals for sentence in removal.not_known],
            "removals": _removals(account, carried_into(period, crossed)),
            "crossed": crossed_tables(period, crossed),
            "others": under_it.table if others else None,
            "vessels": _vessels(account),
            "findings": to_look_into.table,
        },
    )


def _stages(account: MonthAccount) -> Table:
    return Table(
        caption="By stage",
        note="litres of pure alcohol",
        columns=(Column("Stage"), *(Column(head, numeric=True) for head in FIGURES)),
        rows=[Row(_stage(line, Stage(line.stage).label)) for line in account.stages],
        empty="Nothing was posted in this month.",
        total=Row(_stage(account.site, "Site"), total=True),
        wide=True,
    )


def _stage(line: StageLine, name: str) -> list[Cell]:
    figures = (
        line.opening_ul,
        line.in_ul,
        line.out_ul,
        line.loss_ul,
        line.should_be_ul,
        line.closing_ul,
    )
    return [Cell(name), *(Cell(lpa(one)) for one in figures), Cell(difference(line.difference_ul))]


def _pairs(
    caption: str, head: str, pairs: tuple[tuple[str, int], ...], empty: str, *, written: Callable[[int], str] = lpa
) -> Table:
    return Table(
        caption=caption,
        columns=(Column(head), Column("Alcohol", numeric=True, unit="LPA")),
        rows=[Row([Cell(name.capitalize()), Cell(written(amount))]) for name, amount in pairs],
        empty=empty,
    )


def _removals(account: MonthAccount, late: list[Crossing]) -> Table:
    """By kind, and under each what was written into a closed month: late, with its true time."""
    return Table(
        caption="Removals",
        columns=(Column("Kind"), Column("Alcohol", numeric=True, unit="LPA"), Column("Duty", numeric=True, unit="£")),
        rows=[
            row
            for removal in account.removals
            for row in (
                Row(
                    [
                        Cell(removal.kind.capitalize()),
                        Cell(lpa(removal.pure_ul, 4)),
                        Cell(_duty(removal)),
                    ]
                ),
                *(
                    Row(
                        [
                            Cell(
                                f"of it late, truly {moment(one.truly_at, year=True)}: {one.record}",
                                href=record_href(one.record_kind, one.record),
                            ),
                            Cell(lpa(one.removals[removal.kind].pure_ul, 4)),
                            Cell(_pence(one.removals[removal.kind].pence)),
                        ]
                    )
                    for one in late
                    if removal.kind in one.removals
                ),
            )
        ],
        empty="Nothing left the site in this month.",
    )


def _duty(removal: RemovalLine) -> str:
    return "None due" if removal.pence == 0 else _pence(removal.pence)


def _pence(pence: int | None) -> str:
    return "Not known" if pence is None else pounds(pence)


def _vessels(account: MonthAccount) -> Table:
    return Table(
        caption="Vessels at the end of the month",
        columns=(
            Column("Vessel"),
            Column("Alcohol", numeric=True, unit="LPA"),
            Column("Bulk at 20 °C", numeric=True, unit="L"),
            Column("Strength", numeric=True, unit="% vol"),
        ),
        rows=[_vessel(holding, account) for holding in account.vessels],
        empty="No vessels are set up.",
    )


def _vessel(holding: Holding, account: MonthAccount) -> Row:
    contents = contents_of(holding, account.at_work)
    held = contents.held
    return Row(
        [
            Cell(holding.account.name, href=f"{account_href(holding.account)}?month={account.period}"),
            Cell(contents.alcohol),
            Cell(contents.bulk),
            Cell(contents.strength)
            if held is None
            else Cell(held.sentence, href=record_href(held.record_kind, held.record_number)),
        ]
    )


def month_pdf(request: HttpRequest, period: str) -> HttpResponse:
    """The printed account."""
    account = _account(period)
    assert isinstance(request.user, Person)
    printed = month_account_pdf(account, printed_at=timezone.now(), printed_by=request.user.shown_name)
    response = HttpResponse(printed, content_type="application/pdf")
    response["Content-Disposition"] = f'attachment; filename="month-account-{period}.pdf"'
    return response
