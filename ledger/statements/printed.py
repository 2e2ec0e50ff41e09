"""The ledger's documents on paper: hands the month's account to the printing room."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from django.conf import settings

from distillery.printing.balance import BalanceRow
from distillery.printing.document import Part
from distillery.printing.documents import month_account as paper
from distillery.printing.documents.month_beside import KnownRow, TakeRow, YieldRow
from distillery.printing.documents.month_crossed import CrossingLine
from distillery.printing.furniture import Impression
from distillery.printing.house import impression, site
from ledger.enquiries import state_of
from ledger.enquiries.looking import try_month
from ledger.enquiries.standing import UNANSWERED, of_period
from ledger.periods.crossing import Crossing, carried_from, carried_into, crossings
from ledger.periods.words import closed_in_words
from ledger.statements.at_work import held_in
from ledger.statements.balances import Holding
from ledger.statements.month import MonthAccount, StageLine
from ledger.statements.monthly.reading import month_read

# What the number of a printed month's account begins with.
MONTH_PREFIX = "MS-"


def month_account_pdf(account: MonthAccount, *, printed_at: datetime, printed_by: str) -> bytes:
    """The printed account of a month."""
    return paper.month_account_pdf(month_account_sheet(account), impression(printed_at, printed_by))


def month_account_part(account: MonthAccount, printing: Impression) -> Part:
    """The account of a month as a part of a document."""
    return paper.month_account_part(month_account_sheet(account), printing)


def month_account_sheet(account: MonthAccount) -> paper.MonthAccountSheet:
    """The account of a month as the printing room takes it."""
    zone = ZoneInfo(settings.TIME_ZONE)
    month = month_read(account.period)
    tried = try_month(account.period)
    found = tried.findings
    states = state_of(one.key for one in found)
    shown = {one.key for one in found}
    others = [one for one in of_period(account.period) if one.enquiry.key not in shown and one.state in UNANSWERED]
    crossed = crossings(account.period)
    return paper.MonthAccountSheet(
        site=site(),
        number=f"{MONTH_PREFIX}{account.period}",
        first_day=account.starts.astimezone(zone).date(),
        last_day=(account.ends - timedelta(seconds=1)).astimezone(zone).date(),
        stages=tuple(_row(line) for line in account.stages),
        total=_row(account.site),
        losses=tuple(paper.Amount(one.name, one.missing_ul) for one in month.causes.losses if one.missing_ul),
        gains=tuple(paper.Amount(f"{one.name}, booked back", one.over_ul) for one in month.causes.losses if one.over_ul)
        + tuple(
            paper.Amount(one.name.removeprefix("difference, "), one.over_ul)
            for one in month.causes.differences
            if one.over_ul
        ),
        differences=tuple(paper.Amount(name, apart) for name, apart in account.differences),
        removals=tuple(
            paper.RemovalLine(removal.kind, removal.pure_ul, removal.pence or None, removal.not_known)
            for removal in account.removals
        ),
        vessels=tuple(_vessel(holding, account) for holding in account.vessels),
        findings=tuple(
            paper.FindingLine(
                one.kind, one.record, one.operation, one.at, one.difference_ul, states.get(one.key, one.state)
            )
            for one in found
        )
        + tuple(
            paper.FindingLine(
                f"enquiry {one.enquiry.number}",
                one.enquiry.record_number,
                one.enquiry.operation,
                one.enquiry.happened_at,
                one.enquiry.difference_ul or None,
                str(one.state),
            )
            for one in others
        ),
        late_entries=account.late,
        corrections=account.corrections,
        foots=account.foots,
        remarks=(closed_in_words(account.closing, in_full=True), *tried.not_compared),
        carried=tuple(_crossing(one, one.of_name) for one in carried_into(account.period, crossed)),
        since_closed=tuple(_crossing(one, one.into_name) for one in carried_from(account.period, crossed)),
        places=tuple(_row(line) for line in month.places),
        known=tuple(
            KnownRow(
                one.place,
                one.gauged,
                one.gauged_ul,
                one.counted_ul,
                one.seen,
                one.seen_ul,
                one.book_ul,
                one.gauged_at,
            )
            for one in month.known
        ),
        takes=tuple(
            TakeRow(
                one.number,
                one.began,
                one.ended,
                ", ".join(one.counted_by),
                " and ".join(one.names),
                ", ".join(one.records),
            )
            for one in month.takes
        ),
        yields=tuple(
            YieldRow(one.name, one.malt_kilograms, one.reached, one.promised, one.said) for one in month.yields
        ),
        earlier=tuple(_row(one.site, one.name) for one in month.earlier),
    )


def _vessel(holding: Holding, account: MonthAccount) -> paper.VesselLine:
    held = held_in(holding, account.at_work)
    if held is not None:
        return paper.VesselLine(holding.account.name, held.litres, None, 0, held.sentence)
    return paper.VesselLine(holding.account.name, holding.litres20, holding.percent20, holding.pure_ul)


def _crossing(one: Crossing, other: str) -> CrossingLine:
    return CrossingLine(
        one.record,
        one.operation,
        one.truly_at,
        other,
        one.in_ul,
        one.out_ul,
        one.loss_ul,
        one.difference_ul,
        tuple((kind, gone.pure_ul, gone.pence) for kind, gone in sorted(one.removals.items())),
    )


def _row(line: StageLine, name: str = "") -> BalanceRow:
    return BalanceRow(
        name=name or line.stage.capitalize(),
        opening_ul=line.opening_ul,
        in_ul=line.in_ul,
        out_ul=line.out_ul,
        known_losses_ul=line.loss_ul,
        difference_ul=line.difference_ul,
        closing_ul=line.closing_ul,
    )
