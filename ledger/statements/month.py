"""The month's account: for each stage what was there, came, went, was known lost and differs.

Opening + in - out - known losses - difference = closing, to the microlitre, for each stage and for the
site. Read from sums kept by month, so that the work does not grow with the movements posted.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Count, Q, Sum
from django.db.models.functions import Coalesce

from distillery.clock.reading import LATE_AFTER, books_now
from distillery.plant.models import Stage
from ledger.models import AccountKind, AccountMonth, Duty, Movement, MovementKind, StageMonth
from ledger.periods.calendar import Calendar, NoSuchPeriod, bounds, closing_of
from ledger.periods.models import Closing
from ledger.posting.accounts import OPENING_STOCK, source
from ledger.posting.duties import DutyNow, duty_now, duty_sum
from ledger.statements.at_work import AtWork, at_work
from ledger.statements.balances import Holding, vessel_holdings

__all__ = ["MonthAccount", "NoSuchPeriod", "RemovalLine", "StageLine", "bounds", "known_periods", "month_account"]


@dataclass(frozen=True, slots=True)
class StageLine:
    """One line of the account, microlitres of pure alcohol."""

    stage: str
    opening_ul: int
    in_ul: int
    out_ul: int
    loss_ul: int
    difference_ul: int
    closing_ul: int

    @property
    def should_be_ul(self) -> int:
        """What the stage should hold if nothing were apart from the known losses."""
        return self.opening_ul + self.in_ul - self.out_ul - self.loss_ul

    @property
    def foots(self) -> bool:
        return self.should_be_ul - self.difference_ul == self.closing_ul


@dataclass(frozen=True, slots=True)
class RemovalLine:
    """What left under one heading, with the duty worked out for it.

    `pence` is None where the duty of a part of it is not known; `known_pence` is that of the rest, and `not_known` says
    which and what to enter.
    """

    kind: str
    pure_ul: int
    pence: int | None
    known_pence: int = 0
    not_known: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class MonthAccount:
    """The whole account of one month."""

    period: str
    starts: datetime
    ends: datetime
    stages: tuple[StageLine, ...]
    site: StageLine
    losses: tuple[tuple[str, int], ...]
    differences: tuple[tuple[str, int], ...]
    removals: tuple[RemovalLine, ...]
    vessels: tuple[Holding, ...]
    at_work: Mapping[int, AtWork]
    movements: int
    corrections: int
    late: int = 0
    name: str = ""
    closing: Closing | None = None

    @property
    def foots(self) -> bool:
        return all(line.foots for line in (*self.stages, self.site))


def known_periods(calendar: Calendar | None = None) -> list[str]:
    """Months in which anything happened beyond noting what was there when the books began, newest first.

    What is ahead of the books' clock opens none: it is shown as a finding until its time has come, or it is put right.
    """
    calendar, now = calendar or Calendar.read(), books_now()
    opened = dict(
        AccountMonth.objects.filter(account__code=source(OPENING_STOCK).code)
        .values_list("period")
        .annotate(Sum("pure_ul"))
    )
    moved = StageMonth.objects.values("period").annotate(
        came=Sum("in_ul"), left=Sum("out_ul"), lost=Sum("loss_ul"), apart=Sum("difference_ul")
    )
    return sorted(
        (
            row["period"]
            for row in moved
            if (row["left"] or row["lost"] or row["apart"] or row["came"] != -opened.get(row["period"], 0))
            and calendar.bounds(row["period"])[0] <= now
        ),
        reverse=True,
    )


def month_account(period: str) -> MonthAccount:
    """The account of one month; the number of queries does not depend on what was posted. Raises NoSuchPeriod."""
    calendar = Calendar.read()
    starts, ends = calendar.bounds(period)
    lines = _stage_lines(period)
    by_kind = _by_kind(period)
    posted = _posted(period)
    return MonthAccount(
        period=period,
        starts=starts,
        ends=ends,
        stages=tuple(lines),
        site=_site(lines, _boundary(by_kind)),
        losses=_named(by_kind, AccountKind.LOSS),
        differences=_named(by_kind, AccountKind.DIFFERENCE),
        removals=_removals(by_kind, period),
        vessels=tuple(vessel_holdings(before=ends)),
        at_work=at_work(ends),
        movements=posted["movements"],
        corrections=posted["corrections"],
        late=posted["late"],
        name=calendar.name_of(period),
        closing=closing_of(period),
    )


def site_line(period: str) -> StageLine:
    """The line of the whole site alone; a period in which nothing happened has what it opened with."""
    return _site(_stage_lines(period), _boundary(_by_kind(period)))


def written_late() -> Q:
    """Movements written so long after they happened that somebody is asked why."""
    return Q(written_at__gt=Coalesce("true_at", "happened_at") + LATE_AFTER)


def _posted(period: str) -> dict[str, int]:
    """How many movements there are, how many of them take one back, and how many records were written late."""
    counted: dict[str, int] = Movement.objects.filter(period=period).aggregate(
        movements=Count("pk"),
        corrections=Count("pk", filter=Q(corrects__isnull=False)),
        late=Count("pk", filter=Q(kind=MovementKind.OPERATION) & written_late()),
    )
    return counted


def _stage_lines(period: str) -> list[StageLine]:
    """Opening from the lines of the months before, a few rows each; closing by what the accounts gained that something
    was posted to. Neither grows with the casks there are, and whether the two agree shows in `foots`.
    """
    opening: dict[str, int] = defaultdict(int)
    flows: dict[str, StageMonth] = {}
    before = (
        StageMonth.objects.filter(period__lt=period)
        .values_list("stage")
        .annotate(Sum("in_ul"), Sum("out_ul"), Sum("loss_ul"), Sum("difference_ul"))
        .order_by()
    )
    for stage, came, left, lost, apart in before:
        opening[stage] = came - left - lost - apart
    for row in StageMonth.objects.filter(period=period):
        flows[row.stage] = row
    closing = defaultdict(int, opening)
    holding = AccountMonth.objects.filter(period=period, account__kind__in=(AccountKind.VESSEL, AccountKind.STOCK))
    for stage, net in holding.values_list("stage").annotate(Sum("pure_ul")).order_by():
        closing[stage] += net
    lines = []
    for stage in Stage.values:
        flow = flows.get(stage)
        lines.append(
            StageLine(
                stage=stage,
                opening_ul=opening[stage],
                in_ul=flow.in_ul if flow else 0,
                out_ul=flow.out_ul if flow else 0,
                loss_ul=flow.loss_ul if flow else 0,
                difference_ul=flow.difference_ul if flow else 0,
                closing_ul=closing[stage],
            )
        )
    return lines


def _by_kind(period: str) -> list[tuple[str, str, int]]:
    """Kind, name and net of the accounts through which alcohol enters, leaves, is lost or differs; one query."""
    kinds = (AccountKind.SOURCE, AccountKind.REMOVAL, AccountKind.LOSS, AccountKind.DIFFERENCE)
    rows = AccountMonth.objects.filter(period=period, account__kind__in=kinds)
    return list(rows.values_list("account__kind", "account__name").annotate(Sum("pure_ul")).order_by())


def _boundary(by_kind: Iterable[tuple[str, str, int]]) -> tuple[int, int]:
    """What entered the site's books from sources and what left them by removals."""
    entered = left = 0
    for kind, _, net in by_kind:
        if kind == AccountKind.SOURCE:
            entered -= net
        elif kind == AccountKind.REMOVAL:
            left += net
    return entered, left


def _site(lines: list[StageLine], boundary: tuple[int, int]) -> StageLine:
    """All stages together: what passes between stages cancels, what crosses the fence remains."""
    return StageLine(
        stage="site",
        opening_ul=sum(line.opening_ul for line in lines),
        in_ul=boundary[0],
        out_ul=boundary[1],
        loss_ul=sum(line.loss_ul for line in lines),
        difference_ul=sum(line.difference_ul for line in lines),
        closing_ul=sum(line.closing_ul for line in lines),
    )


def _named(by_kind: Iterable[tuple[str, str, int]], kind: str) -> tuple[tuple[str, int], ...]:
    return tuple(sorted((name, net) for of, name, net in by_kind if of == kind and net))


def _removals(by_kind: Iterable[tuple[str, str, int]], period: str) -> tuple[RemovalLine, ...]:
    lines = _named(by_kind, AccountKind.REMOVAL)
    if not lines:
        return ()
    lines_of: dict[str, list[DutyNow]] = defaultdict(list)
    known: dict[str, int] = defaultdict(int)
    duties = Duty.objects.filter(movement__period=period)
    for removal, due in duties.values_list("removal").annotate(Sum("pence")):
        known[removal] += due or 0
    for duty in duties.filter(pence__isnull=True).select_related("movement").order_by("pk"):
        lines_of[duty.removal].append(duty_now(duty, duty.movement))
    found = []
    for name, net in lines:
        since = duty_sum(lines_of[name])
        together = known[name] + since.known_pence
        found.append(RemovalLine(name, net, None if since.not_known else together, together, since.not_known))
    return tuple(found)
