"""The month's account as text, JSON or a printed PDF."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from distillery.figures import PLAIN, litres, lpa, percent, pounds
from distillery.plant.models import MICRO
from ledger.posting.accounts import VESSEL_ACCOUNT
from ledger.statements.at_work import held_in
from ledger.statements.month import MonthAccount, NoSuchPeriod, StageLine, month_account
from ledger.statements.monthly.causes import Apart
from ledger.statements.monthly.reading import MonthRead, month_read
from ledger.statements.printed import month_account_pdf


class Command(BaseCommand):
    help = "Prints the account of a month: what was there, came, went, was lost and differs, by stage."
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("period", help="a month such as 2027-03")
        parser.add_argument("--json", action="store_true", help="print one JSON document and nothing else")
        parser.add_argument("--pdf", metavar="FILE", help="write the printed account to this file")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            account = month_account(options["period"])
        except NoSuchPeriod as unknown:
            raise CommandError(str(unknown)) from unknown
        if options["pdf"]:
            printed = month_account_pdf(account, printed_at=timezone.now(), printed_by="the command line")
            try:
                Path(options["pdf"]).write_bytes(printed)
            except (OSError, ValueError) as error:
                said = getattr(error, "strerror", None) or error
                raise CommandError(f"{options['pdf']} cannot be written: {said}. Name another file.") from error
        if options["json"]:
            self.stdout.write(json.dumps(as_data(account) | beside(month_read(account.period))))
        elif not options["pdf"]:
            self._text(account)

    def _text(self, account: MonthAccount) -> None:
        self.stdout.write(f"Account of {account.period}, litres of pure alcohol at 20 °C")
        heads = ("Opening", "In", "Out", "Known losses", "Should be", "Difference", "Closing")
        self.stdout.write(f"{'':26}" + "".join(f"{head:>14}" for head in heads))
        for line in (*account.stages, account.site):
            figures = (
                line.opening_ul,
                line.in_ul,
                line.out_ul,
                line.loss_ul,
                line.should_be_ul,
                line.difference_ul,
                line.closing_ul,
            )
            self.stdout.write(f"{line.stage:26}" + "".join(f"{lpa(one, style=PLAIN):>14}" for one in figures))
        self.stdout.write("It foots to the microlitre." if account.foots else "IT DOES NOT FOOT: run verify_ledger.")
        month = month_read(account.period)
        self.stdout.write("\nBy place: closing, of it gauged in the month, counted, by book")
        for one in month.known:
            amounts = (one.closing_ul, one.gauged_ul, one.counted_ul, one.book_ul)
            self.stdout.write(f"  {one.place:24}" + "".join(f"{lpa(each, style=PLAIN):>14}" for each in amounts))
        self.stdout.write("\nKnown losses by cause")
        for cause, lost in account.losses:
            self.stdout.write(f"  {cause:40}{lpa(lost, style=PLAIN):>12}")
        self.stdout.write("\nRemovals")
        for removal in account.removals:
            owed = "not known" if removal.pence is None else pounds(removal.pence, PLAIN)
            self.stdout.write(f"  {removal.kind:40}{lpa(removal.pure_ul, style=PLAIN):>12}  duty {owed}")
            for sentence in removal.not_known:
                self.stdout.write(f"    {sentence}")
        self.stdout.write("\nVessels at the end of the month")
        for holding in account.vessels:
            held = held_in(holding, account.at_work)
            bulk = "" if holding.litres20 is None else litres(holding.litres20, style=PLAIN)
            if held is not None:
                bulk = "" if held.litres is None else litres(held.litres, style=PLAIN)
            strength = "" if holding.percent20 is None else percent(holding.percent20, style=PLAIN)
            self.stdout.write(
                f"  {holding.account.code.removeprefix('vessel:'):10}{holding.account.name:30}"
                f"{lpa(holding.pure_ul, style=PLAIN):>12}{bulk:>12}{strength:>8}"
                f"{f'  {held.sentence}' if held else ''}"
            )


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
