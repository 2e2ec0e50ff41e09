"""The month's account as text, JSON or a printed PDF."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.urls import reverse
from django.utils import timezone

from distillery.figures import PLAIN, litres, lpa, percent, pounds
from distillery.prints.register import registered
from ledger.statements.at_work import held_in
from ledger.statements.month import MonthAccount, NoSuchPeriod, month_account
from ledger.statements.monthly.as_data import as_data, beside
from ledger.statements.monthly.reading import month_read
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
            with registered(reverse("month_pdf", args=[account.period])):
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
