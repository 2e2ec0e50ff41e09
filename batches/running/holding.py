"""What a vessel holds while a record is on in it: fermenting wash by the litres that went in, a still by its charge.

The books know the charge of a still and not whose it is; of wash that ferments they know nothing until it is declared.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from batches.running.runs import all_running
from distillery.plant.models import Vessel
from ledger.models import Account
from ledger.statements.at_work import AtWork, at_work
from ledger.statements.balances import holdings


def on_now() -> dict[str, AtWork]:
    """Every run that is on, by the code of its vessel: its record, its state and since when it is in it."""
    return {
        run.vessel: AtWork(run.record.kind, run.record.number, run.spans[-1].state.lower(), None, run.in_state_since)
        for run in all_running()
        if run.vessel
    }


@dataclass(frozen=True, slots=True)
class Held:
    """The record that is on in a vessel, what is said of it ('ferments', 'spirit on'), and what the vessel holds.

    `litres` at 20 °C, None where only a gauge could tell; `pure_ul` by its book in microlitres, None before anything of
    it is declared.
    """

    record_kind: str
    record_number: str
    said: str
    litres: float | None
    pure_ul: int | None


def what_holds(vessel: Vessel) -> Held | None:
    """What is on in a vessel; None where nothing is."""
    return all_held([vessel]).get(vessel.code)


def all_held(vessels: Collection[Vessel]) -> dict[str, Held]:
    """What is on in each of these vessels, by its code; those in which nothing is are left out."""
    codes, working = {vessel.code for vessel in vessels}, at_work()
    there = {run.vessel: run for run in all_running() if run.vessel in codes}
    found = {
        vessel.code: Held(at.record_kind, at.record_number, at.said, at.litres, None)
        for vessel in vessels
        if (at := working.get(vessel.pk)) is not None
    }
    for one in holdings(Account.objects.filter(vessel__code__in=there.keys() - found.keys())):
        code = one.account.vessel.code if one.account.vessel else ""
        run = there[code]
        found[code] = Held(run.record.kind, run.record.number, run.spans[-1].state.lower(), one.litres20, one.pure_ul)
    return found
