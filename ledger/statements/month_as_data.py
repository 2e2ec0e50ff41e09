"""The account of a month as plain data, for the command and for other programs."""

from __future__ import annotations

from typing import Any

from distillery.plant.models import MICRO
from ledger.posting.accounts import VESSEL_ACCOUNT
from ledger.statements.at_work import held_in
from ledger.statements.month import MonthAccount, StageLine


def as_data(account: MonthAccount) -> dict[str, Any]:
    """The account as plain data; litres of pure alcohol, exact to the microlitre."""
    return {
        "period": account.period,
        "foots": account.foots,
        "closed": account.closing is not None,
        "stages": [stage_data(line) for line in account.stages],
        "site": stage_data(account.site),
        "vessels": [
            {
                "vessel": holding.account.code.removeprefix(VESSEL_ACCOUNT),
                "lpa": holding.pure_ul / MICRO,
                "litres": None if holding.litres20 is None else round(holding.litres20, 3),
                "percent": None if holding.percent20 is None else round(holding.percent20, 3),
                "at_work": held.sentence if (held := held_in(holding, account.at_work)) else None,
                "gauged_lpa": holding.last_gauge.pure_ul / MICRO if holding.last_gauge else None,
                "gauged_uncertainty_lpa": holding.last_gauge.uncertainty_ul / MICRO if holding.last_gauge else None,
            }
            for holding in account.vessels
        ],
        "losses": [{"cause": cause, "lpa": lost / MICRO} for cause, lost in account.losses],
        "differences": [{"operation": name, "lpa": apart / MICRO} for name, apart in account.differences],
        "removals": [
            {
                "kind": removal.kind,
                "lpa": removal.pure_ul / MICRO,
                "duty": None if removal.pence is None else removal.pence / 100,
                "duty_known": removal.known_pence / 100,
                "duty_not_known": list(removal.not_known),
            }
            for removal in account.removals
        ],
    }


def stage_data(line: StageLine) -> dict[str, Any]:
    """One line of it, in litres of pure alcohol."""
    return {
        "stage": line.stage,
        "opening_lpa": line.opening_ul / MICRO,
        "in_lpa": line.in_ul / MICRO,
        "out_lpa": line.out_ul / MICRO,
        "known_losses_lpa": line.loss_ul / MICRO,
        "difference_lpa": line.difference_ul / MICRO,
        "closing_lpa": line.closing_ul / MICRO,
    }
