"""The ledger's documents on paper: hands the month's account to the printing room."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db.models.functions import Coalesce

from distillery.plant.models import Stage
from distillery.printing import month_account as paper
from distillery.printing.balance import BalanceRow
from distillery.printing.house import impression, site
from distillery.printing.known_by import BasisRow, KnownBy, TakeRow
from ledger.enquiries import state_of
from ledger.enquiries.looking import try_month
from ledger.enquiries.standing import UNANSWERED, of_period
from ledger.models import Movement, MovementKind
from ledger.periods.crossing import Crossing, carried_from, carried_into, crossings
from ledger.periods.words import closed_in_words
from ledger.statements.at_work import held_in
from ledger.statements.balances import Holding
from ledger.statements.basis import SAID, basis_of, takes_of
from ledger.statements.month import MonthAccount, StageLine

LATE = timedelta(minutes=30)
# What the number of a printed month's account begins with.
MONTH_PREFIX = "MS-"


def month_account_pdf(account: MonthAccount, *, printed_at: datetime, printed_by: str) -> bytes:
    """The printed account of a month."""
    return paper.month_account_pdf(month_account_sheet(account), impression(printed_at, printed_by))


def month_account_sheet(account: MonthAccount) -> paper.MonthAccountSheet:
    """The account of a month as the printing room takes it."""
    zone = ZoneInfo(settings.TIME_ZONE)
    posted = Movement.objects.filter(period=account.period, kind=MovementKind.OPERATION)
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
        losses=tuple(paper.Amount(cause, lost) for cause, lost in account.losses if lost > 0),
        gains=tuple(paper.Amount(name, -apart) for name, apart in account.differences if apart < 0),
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
        late_entries=posted.filter(written_at__gt=Coalesce("true_at", "happened_at") + LATE).count(),
        corrections=account.corrections,
        foots=account.foots,
        remarks=(closed_in_words(account.closing, in_full=True), *tried.not_compared),
        carried=tuple(_crossing(one, one.of_name) for one in carried_into(account.period, crossed)),
        known=_known(account),
        since_closed=tuple(_crossing(one, one.into_name) for one in carried_from(account.period, crossed)),
    )


def _known(account: MonthAccount) -> KnownBy:
    lines = [BasisRow(Stage(one.stage).label, SAID[one.basis], one.accounts, one.pure_ul) for one in basis_of(account)]
    takes = [
        TakeRow(
            one.number, one.began, one.ended, ", ".join(one.counted_by), " and ".join(one.names), ", ".join(one.records)
        )
        for one in takes_of(account)
    ]
    return KnownBy(tuple(lines), tuple(takes))


def _vessel(holding: Holding, account: MonthAccount) -> paper.VesselLine:
    held = held_in(holding, account.at_work)
    if held is not None:
        return paper.VesselLine(holding.account.name, held.litres, None, 0, held.sentence)
    return paper.VesselLine(holding.account.name, holding.litres20, holding.percent20, holding.pure_ul)


def _crossing(one: Crossing, other: str) -> paper.CrossingLine:
    return paper.CrossingLine(
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


def _row(line: StageLine) -> BalanceRow:
    return BalanceRow(
        name=line.stage.capitalize(),
        opening_ul=line.opening_ul,
        in_ul=line.in_ul,
        out_ul=line.out_ul,
        known_losses_ul=line.loss_ul,
        difference_ul=line.difference_ul,
        closing_ul=line.closing_ul,
    )
