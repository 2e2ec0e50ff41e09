"""The figures of a duty return, or of a quarter's spirits, as text or JSON. It files nothing."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, Final

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from batches.returns.as_data import as_data
from batches.returns.came_back import BackLine
from batches.returns.duty_lines import ReturnLine
from batches.returns.figures import PREPARES, MonthFigures, QuarterFigures, return_figures
from batches.returns.quarter import Quarter
from distillery import figures
from distillery.figures import PLAIN, day, kilograms, litres_from_ul, lpa, pounds
from ledger.periods.calendar import NoSuchPeriod

NOT_KNOWN: Final = "not known"
PENCE_HUNDREDTHS_A_PENNY: Final = 100


class Command(BaseCommand):
    help = "Prints the figures a return is prepared from: of a month (2027-03) or of a quarter (2027-Q1)."
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("period", help="a month such as 2027-03, or a quarter such as 2027-Q1")
        parser.add_argument("--json", action="store_true", help="print one JSON document and nothing else")
        parser.add_argument("--pdf", metavar="FILE", help="write the printed figures to this file")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            found = return_figures(options["period"])
        except NoSuchPeriod as unknown:
            raise CommandError(str(unknown)) from unknown
        if options["pdf"]:
            self._print(found, options["pdf"])
        if options["json"]:
            self.stdout.write(json.dumps(as_data(found)))
        elif not options["pdf"]:
            self._text(found)

    def _print(self, found: MonthFigures | QuarterFigures, file: str) -> None:
        from batches.pages.returns.printed import return_pdf

        printed = return_pdf(found, printed_at=timezone.now(), printed_by="the command line")
        try:
            Path(file).write_bytes(printed)
        except (OSError, ValueError) as error:
            said = getattr(error, "strerror", None) or error
            raise CommandError(f"{file} cannot be written: {said}. Name another file.") from error

    def _text(self, found: MonthFigures | QuarterFigures) -> None:
        self.stdout.write(f"Return figures of {found.span.name}, litres of pure alcohol at 20 °C, pounds")
        self.stdout.write(PREPARES)
        for due in found.span.due():
            until = due.rule.until if due.day is None else day(due.day, year=True)
            self.stdout.write(f"Due {until}: {due.rule.said}")
        if found.is_nil:
            self.stdout.write("Nothing to declare: a nil return.")
        if isinstance(found, QuarterFigures):
            self._quarter(found.made)
            return
        for heading, lines in (
            ("Duty by tax type", found.duty),
            ("Under-declared in earlier months", found.under),
            ("Over-declared in earlier months", found.over),
        ):
            self._lines(heading, lines)
        self._back("Spoilt product", found.spoilt)
        self._back("Drawback", found.drawback)
        self.stdout.write("\nDuty suspension")
        for one in found.suspended:
            volume = litres_from_ul(one.litres20_ul, 2, PLAIN)
            self.stdout.write(f"  {one.line:44}{volume:>14} L{lpa(one.pure_ul, 4, PLAIN):>16}")
        self.stdout.write("\nStock by class of goods")
        heads = ("Opening", "In", "Out", "Losses", "Closing")
        self.stdout.write(f"  {'':26}" + "".join(f"{head:>14}" for head in heads))
        for goods in found.classes:
            amounts = (goods.opening_ul, goods.in_ul, goods.out_ul, goods.losses_ul, goods.closing_ul)
            self.stdout.write(f"  {goods.stage:26}" + "".join(f"{lpa(one, style=PLAIN):>14}" for one in amounts))
        for sentence in found.not_known:
            self.stdout.write(f"\nNot known: {sentence}")
        if found.quarter is not None:
            self._quarter(found.quarter)

    def _lines(self, heading: str, lines: tuple[ReturnLine, ...]) -> None:
        self.stdout.write(f"\n{heading}")
        for one in lines:
            about = f"{one.of} {', '.join(number for _, number in one.records)}" if "earlier" in heading else ""
            self._line(one.tax_type, about, one.litres20_ul, one.pure_ul, one.rate, one.pence)
        if not lines:
            self.stdout.write("  none")

    def _back(self, heading: str, lines: tuple[BackLine, ...]) -> None:
        self.stdout.write(f"\n{heading}")
        for one in lines:
            self._line(one.tax_type, f"{one.record} {one.claim}", one.litres20_ul, one.pure_ul, one.rate, one.pence)
        if not lines:
            self.stdout.write("  none")

    def _line(
        self, tax_type: str, about: str, litres20_ul: int, pure_ul: int, rate: int | None, pence: int | None
    ) -> None:
        at = NOT_KNOWN if rate is None else figures.number(rate / PENCE_HUNDREDTHS_A_PENNY / 100, 2, PLAIN)
        owed = NOT_KNOWN if pence is None else pounds(abs(pence), PLAIN)
        volume, alcohol = litres_from_ul(abs(litres20_ul), 2, PLAIN), lpa(abs(pure_ul), 4, PLAIN)
        self.stdout.write(f"  {tax_type:6}{about:38}{volume:>14} L{alcohol:>16}{at:>12}{owed:>14}")

    def _quarter(self, made: Quarter) -> None:
        self.stdout.write("\nSpirits made in the quarter")
        for one in made.kinds:
            self.stdout.write(f"  {one.name:44}{lpa(one.amount, 4, PLAIN):>16}")
        self.stdout.write(f"  {'all':44}{lpa(made.spirits_ul, 4, PLAIN):>16}")
        self.stdout.write("Cereals used in the quarter, kg")
        for one in made.cereals:
            self.stdout.write(f"  {one.name:44}{kilograms(one.amount, 1, PLAIN):>16}")
        if not made.cereals:
            self.stdout.write("  none")
