"""The books: months, and one month's account on screen and paper."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.utils import timezone

from distillery.figures import ROUNDING, SIGN_OF_DIFFERENCE, lpa, moment, pounds
from distillery.lists.showing import first_file, listed
from distillery.pages import LOOK, BalanceLine, Cell, Column, Row, Table
from distillery.people.models import Person
from distillery.people.roles import holds
from ledger.comparing.findings.untimely import entries_ahead
from ledger.enquiries.looking import Tried, try_month
from ledger.enquiries.standing import UNANSWERED, by_key
from ledger.periods.crossing import Crossing, carried_into
from ledger.periods.words import closed_in_words
from ledger.proof.clock_back import lately
from ledger.so_far import so_far
from ledger.statements.at_work import contents_of
from ledger.statements.balances import Holding
from ledger.statements.month import MonthAccount, NoSuchPeriod, RemovalLine
from ledger.statements.monthly.reading import MonthRead, month_read
from ledger.statements.monthly.told import ways_of_month
from ledger.statements.printed import month_account_pdf
from ledger.views.lists.findings import OTHERS, OTHERS_NOTE, EnquiryTable, FindingTable, others_of, shown
from ledger.views.months.before_close import before_close, due_in_words, on_record
from ledger.views.months.closing import period_table
from ledger.views.months.crossed import crossed_tables
from ledger.views.months.month_tables import (
    difference_table,
    earlier_table,
    known_in_words,
    known_table,
    loss_table,
    place_table,
    stage_table,
    yield_table,
)
from ledger.views.proof.trail import READERS
from ledger.views.told_in_books import told_in_books
from ledger.views.ways import account_href, books_places, record_href


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


def _tried(period: str) -> Tried:
    try:
        return try_month(period)
    except NoSuchPeriod as unknown:
        raise Http404(str(unknown)) from unknown


def _read(period: str, written: tuple[object, ...] | None = None) -> MonthRead:
    try:
        return month_read(period, written)
    except NoSuchPeriod as unknown:
        raise Http404(str(unknown)) from unknown


def month_page(request: HttpRequest, period: str) -> HttpResponseBase:
    """The account of one month as a manager reads it: what is in the way of its close first."""
    # Comparing may write; what is read after it stands as far as the books are written then.
    tried = _tried(period)
    written = so_far()
    month = _read(period, written)
    account = month.account
    open_findings = tried.findings
    site = account.site
    keys = {one.key for one in open_findings}
    under = {one.enquiry.key: one for one in month.enquiries}
    others = [one for key, one in under.items() if key not in keys and one.state in UNANSWERED]
    crossed = list(month.crossed)
    rows = shown(open_findings, period, under | by_key(keys - under.keys()))
    to_look_into = listed(request, FindingTable, rows, prefix="findings")
    under_it = listed(request, EnquiryTable, others_of(others), prefix="others", caption=OTHERS, note=OTHERS_NOTE)
    if (file := first_file(to_look_into, under_it)) is not None:
        return file
    known = known_in_words(month.known_in_all)
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
            "before_close": before_close(account, written),
            "due": due_in_words(month.due, account.closing),
            "ways": ways_of_month(period),
            "line": BalanceLine(
                opening_ul=site.opening_ul,
                in_ul=site.in_ul,
                out_ul=site.out_ul,
                known_losses_ul=site.loss_ul,
                should_be_ul=site.should_be_ul,
                measured_ul=site.closing_ul,
                difference_ul=site.difference_ul,
                state=LOOK if open_findings or others or tried.not_compared else None,
                note=f"{known} {SIGN_OF_DIFFERENCE} {ROUNDING}",
                measured_label="Closing",
            ),
            "by_place": place_table(month),
            "stages": stage_table(account),
            "known": known_table(month),
            "losses": loss_table(month.causes.losses),
            "differences": difference_table(month.causes.differences),
            "yields": yield_table(month.yields),
            "on_record": on_record(month),
            "earlier": earlier_table(month.earlier),
            "duty_not_known": [sentence for removal in account.removals for sentence in removal.not_known],
            "removals": _removals(account, carried_into(period, crossed)),
            "crossed": crossed_tables(period, crossed),
            "others": under_it.table if others else None,
            "vessels": _vessels(account),
            "findings": to_look_into.table,
        },
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
    account = _read(period).account
    assert isinstance(request.user, Person)
    printed = month_account_pdf(account, printed_at=timezone.now(), printed_by=request.user.shown_name)
    response = HttpResponse(printed, content_type="application/pdf")
    response["Content-Disposition"] = f'attachment; filename="month-account-{period}.pdf"'
    return response
