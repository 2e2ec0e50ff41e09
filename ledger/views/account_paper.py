"""The account of a vessel on paper."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from distillery.people.models import Person
from distillery.printing.balance import BalanceRow
from distillery.printing.house import impression
from ledger.enquiries.standing import of_account
from ledger.models import AccountKind
from ledger.statements.account_paper import account_pdf
from ledger.statements.balances import entries_of
from ledger.statements.month import bounds
from ledger.views.accounts import asked_for, line_of
from ledger.views.lists.entries import EntryTable, GaugeTable, gauges_of
from ledger.views.ways import short

OLDEST_FIRST = "oldest first"


def vessel_account_pdf(request: HttpRequest, code: str) -> HttpResponse:
    """One account over the month that is asked for, `?month=2027-03`, else the newest; gauges of that month."""
    assert isinstance(request.user, Person)
    account, period = asked_for(request, code)
    since, until = bounds(period)
    line = line_of(account, period)
    row = BalanceRow(
        account.name,
        line.opening_ul,
        line.in_ul,
        line.out_ul,
        line.known_losses_ul,
        line.difference_ul or 0,
        line.measured_ul if line.measured_ul is not None else line.should_be_ul,
    )
    is_place = account.kind in (AccountKind.VESSEL, AccountKind.STOCK)
    gauges = gauges_of(account.pk).filter(happened_at__gte=since, happened_at__lt=until)
    entries = entries_of(account, since, until).order_by("happened_at", "position", "pk")
    lists = [EntryTable(entries, order_by=(), note=OLDEST_FIRST)]
    if is_place:
        ordered = gauges.order_by("happened_at", "position", "pk")
        lists.append(GaugeTable(ordered, order_by=(), caption="Measured", note=OLDEST_FIRST))
    printed = account_pdf(
        f"{short(account)}, {period}",
        row if is_place else None,
        lists,
        [f"Enquiry {one.enquiry.number}: {one.in_words}." for one in of_account(account, period)],
        impression(timezone.now(), request.user.shown_name),
    )
    answer = HttpResponse(printed, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="account-{account.pk}-{period}.pdf"'
    return answer
