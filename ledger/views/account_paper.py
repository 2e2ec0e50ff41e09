"""The account of a vessel on paper."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from distillery.lists.tables import HouseTable
from distillery.people.models import Person
from distillery.plant.lookup import FIXED
from distillery.plant.models import Vessel
from distillery.printing.balance import BalanceRow
from distillery.printing.document import Part, print_document
from distillery.printing.furniture import Impression
from distillery.printing.house import impression
from ledger.enquiries.standing import of_account
from ledger.models import Account, AccountKind, AccountMonth
from ledger.statements.account_paper import account_part
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
    printed = print_document(
        [vessel_account_part(account, period, impression(timezone.now(), request.user.shown_name))]
    )
    answer = HttpResponse(printed, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="account-{account.pk}-{period}.pdf"'
    return answer


def vessel_account_part(account: Account, period: str, printing: Impression) -> Part:
    """The same as a part of a document. `period` is one of the books."""
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
    lists: list[HouseTable] = [EntryTable(entries, order_by=(), note=OLDEST_FIRST)]
    if is_place:
        ordered = gauges.order_by("happened_at", "position", "pk")
        lists.append(GaugeTable(ordered, order_by=(), caption="Measured", note=OLDEST_FIRST))
    enquiries = [f"Enquiry {one.enquiry.number}: {one.in_words}." for one in of_account(account, period)]
    return account_part(f"{short(account)}, {period}", row if is_place else None, lists, enquiries, printing)


def vessels_moved(period: str) -> list[Account]:
    """The accounts of vessels, casks left out, to which something was posted in a period; in the plant's order."""
    fixed = Vessel.objects.filter(kind__in=FIXED).order_by().values("pk")
    moved = AccountMonth.objects.filter(period=period).order_by().values("account")
    accounts = Account.objects.filter(vessel__in=fixed, pk__in=moved).select_related("vessel")
    return list(accounts.order_by("vessel__order", "vessel__code"))
