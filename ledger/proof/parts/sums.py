"""Adds the legs up again and compares what is kept: balances, months, lines of months. Microlitres and grams."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from ledger.models import Account, AccountKind, AccountMonth, Balance, StageMonth
from ledger.proof.sealed_columns import Row

THROUGH = frozenset({AccountKind.VESSEL, AccountKind.STOCK, AccountKind.LOSS, AccountKind.DIFFERENCE})
# What each account held at a closing: pure alcohol and mass. None where a proof begins with the books.
Frozen = Mapping[int, tuple[int, int]]


class Sums:
    """What the legs add up to, microlitres and grams: for each account and month, and for each line of a month.

    `since` is the last period that is left out: a proof from a closing on takes what came before from its balances.
    """

    def __init__(self, since: str = "") -> None:
        self._since = since
        rows = list(Account.objects.values_list("pk", "code", "kind"))
        self.codes = {pk: code for pk, code, _ in rows}
        self._losses = {pk for pk, _, kind in rows if kind == AccountKind.LOSS}
        self._differences = {pk for pk, _, kind in rows if kind == AccountKind.DIFFERENCE}
        self._through = {pk for pk, _, kind in rows if kind in THROUGH}
        self.months: dict[tuple[int, str, str], list[int]] = {}
        self.stages: dict[tuple[str, str], list[int]] = {}

    def add(self, movement: Row, legs: Sequence[Row]) -> tuple[int, int]:
        """Adds a movement. Returns the sums of its legs in µL and in grams; both should be 0."""
        months, through, since = self.months, self._through, self._since
        total_pure = total_mass = 0
        by_stage: dict[str, list[int]] = {}
        for _, _, _, account, _, stage, _, _, period, pure, mass, *_ in legs:
            total_pure += pure
            total_mass += mass
            if period <= since:
                continue
            key = (account, period, stage)
            try:
                month = months[key]
            except KeyError:
                months[key] = [pure, mass]
            else:
                month[0] += pure
                month[1] += mass
            if stage and account in through:
                try:
                    part = by_stage[stage]
                except KeyError:
                    part = by_stage[stage] = [0, 0, 0]
                part[0] += pure
                if account in self._losses:
                    part[1] += pure
                elif account in self._differences:
                    part[2] += pure
        # An opposite takes back what came in or went out, on the side on which it stood.
        period, taken_back = movement[5], movement[13] is not None
        for stage, (passed, lost, differs) in by_stage.items():
            line = self.stages.get((period, stage))
            if line is None:
                line = self.stages[period, stage] = [0, 0, 0, 0]
            if (passed < 0) if taken_back else (passed > 0):
                line[0] += passed
            else:
                line[1] -= passed
            line[2] += lost
            line[3] += differs
        return total_pure, total_mass

    def take(self, other: Sums) -> None:
        """Adds what another stretch of the chain came to."""
        for key, (pure, mass) in other.months.items():
            month = self.months.setdefault(key, [0, 0])
            month[0] += pure
            month[1] += mass
        for line, sums in other.stages.items():
            kept = self.stages.setdefault(line, [0, 0, 0, 0])
            kept[:] = [one + more for one, more in zip(kept, sums, strict=True)]


def balances_apart(sums: Sums, frozen: Frozen) -> Iterator[str]:
    """Balances that are not what was frozen and the legs after it."""
    added = {pk: [pure, mass] for pk, (pure, mass) in frozen.items()}
    for (account, _period, _stage), (pure, mass) in sums.months.items():
        balance = added.setdefault(account, [0, 0])
        balance[0] += pure
        balance[1] += mass
    kept = {pk: [pure, mass] for pk, pure, mass in Balance.objects.values_list("account_id", "balance_ul", "mass_g")}
    for pk in sorted(added.keys() | kept.keys()):
        if added.get(pk, [0, 0]) != kept.get(pk, [0, 0]):
            yield f"the balance of {sums.codes.get(pk, pk)} is kept wrong: {kept.get(pk)} µL and g"


def months_apart(sums: Sums, since: str) -> Iterator[str]:
    """The net of an account in a month, by stage."""
    rows = AccountMonth.objects.filter(period__gt=since) if since else AccountMonth.objects.all()
    columns = rows.values_list("account_id", "period", "stage", "pure_ul", "mass_g")
    kept = {(account, period, stage): [pure, mass] for account, period, stage, pure, mass in columns.iterator(2000)}
    for key in sorted(sums.months.keys() | kept.keys(), key=str):
        if sums.months.get(key, [0, 0]) != kept.get(key, [0, 0]):
            account, period, stage = key
            yield f"the month's net of {sums.codes.get(account, account)} in {period}, stage '{stage}', is kept wrong"


def stages_apart(sums: Sums, since: str) -> Iterator[str]:
    """Lines of the account of a month."""
    rows = StageMonth.objects.filter(period__gt=since) if since else StageMonth.objects.all()
    columns = rows.values_list("period", "stage", "in_ul", "out_ul", "loss_ul", "difference_ul")
    kept = {(period, stage): list(line) for period, stage, *line in columns}
    nothing = [0, 0, 0, 0]
    for period, stage in sorted(sums.stages.keys() | kept.keys()):
        if sums.stages.get((period, stage), nothing) != kept.get((period, stage), nothing):
            yield f"the line '{stage}' of the account of {period} is kept wrong"
