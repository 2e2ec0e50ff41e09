"""The account of a month as plain data, for the command and for other programs."""

from __future__ import annotations

from typing import Any

from distillery.plant.models import MICRO
from ledger.posting.accounts import VESSEL_ACCOUNT
from ledger.statements.at_work import held_in
from ledger.statements.month import MonthAccount, StageLine
from ledger.statements.monthly.causes import Apart
from ledger.statements.monthly.reading import MonthRead


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


def beside(month: MonthRead) -> dict[str, Any]:
    """What stands beside the lines by stage, as plain data: the same figures as on the page and on paper."""
    return {
        "late_entries": month.account.late,
        "places": [{"place": line.stage} | _figures(line) for line in month.places],
        "known": [
            {
                "place": one.place,
                "vessels_gauged": one.gauged,
                "gauged_lpa": one.gauged_ul / MICRO,
                "counted_lpa": one.counted_ul / MICRO,
                "casks_seen": one.seen,
                "seen_lpa": one.seen_ul / MICRO,
                "by_book_lpa": one.book_ul / MICRO,
                "oldest_gauge": one.gauged_at.isoformat() if one.gauged_at else None,
            }
            for one in month.known
        ],
        "losses_apart": [_apart(one, "lost_lpa", "booked_back_lpa") for one in month.causes.losses],
        "differences_apart": [_apart(one, "missing_lpa", "over_lpa") for one in month.causes.differences],
        "yields": [
            {
                "what": one.name,
                "malt_kg": one.malt_kilograms,
                "lpa_per_tonne": one.reached,
                "promised_lpa_per_tonne": one.promised,
                "efficiency_percent": one.efficiency,
                "state": one.said,
            }
            for one in month.yields
        ],
        "months": [{"period": one.period} | _figures(one.site) for one in month.earlier],
        "returns_due": [{"return": one.said, "day": one.day.isoformat(), "source": one.source} for one in month.due],
    }


def _apart(one: Apart, missing: str, over: str) -> dict[str, Any]:
    return {"name": one.name, missing: one.missing_ul / MICRO, over: one.over_ul / MICRO}


def stage_data(line: StageLine) -> dict[str, Any]:
    """A line by stage, litres of pure alcohol."""
    return {"stage": line.stage} | _figures(line)


def _figures(line: StageLine) -> dict[str, Any]:
    return {
        "opening_lpa": line.opening_ul / MICRO,
        "in_lpa": line.in_ul / MICRO,
        "out_lpa": line.out_ul / MICRO,
        "known_losses_lpa": line.loss_ul / MICRO,
        "difference_lpa": line.difference_ul / MICRO,
        "closing_lpa": line.closing_ul / MICRO,
    }
