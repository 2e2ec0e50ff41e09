"""What an officer asks for, each with the page that answers it, what belongs to it, and where it is printed.

What is asked for follows the records that the law and the notices name: HMRC, Alcoholic products technical guide,
chapters 4, 9 and 14; Excise Warehousing (Etc.) Regulations 1988, schedule 2; Revenue Traders (Accounts and Records)
Regulations 1992, regulations 4, 5 and 8; HMRC Spirits Production guidance. The words are our own.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from django.urls import reverse
from django.utils.http import urlencode

from batches.models import Record, State
from batches.pages.bundle.months import Months, periods_in
from batches.pages.places.rule_tables import VesselTable
from batches.pages.records.shown import record_address
from batches.pages.tracing.names import trace_address
from batches.sheets.register import sheet_of
from batches.sheets.sheet import Sheet
from batches.stores.kinds import MaterialKind
from distillery.clock.reading import books_today
from distillery.pages import Link
from distillery.plant.pages.place_lists import KeyholderTable
from ledger.posting.boundary import UNDER_BOND

PDF: Final = "pdf"
# The name of the list of casks on the page of stock on a day.
CASKS: Final = "casks"


@dataclass(frozen=True, slots=True)
class AskedFor:
    """One thing asked for: the page that answers it, another that belongs to it (if any), and the print."""

    what: str
    page: Link
    paper: Link
    also: Link | None = None


def asked_for(months: Months) -> list[AskedFor]:
    """Everything an officer asks for, of some months; what goes by one month opens at the last of them."""
    return _Asked(months).all()


class _Asked:
    def __init__(self, months: Months) -> None:
        self._months = months
        self._days = {"since": months.first.first_day.isoformat(), "until": months.last.last_day.isoformat()}
        last = months.last
        self._month = last.code
        self._period = periods[-1] if (periods := periods_in(last)) else last.code
        first = months.first
        self._first_period = earlier[0] if (earlier := periods_in(first)) else first.code
        self._day = min(last.last_day, books_today()).isoformat()

    def all(self) -> list[AskedFor]:
        """In the order in which they are commonly asked for."""
        return [*self._plant_and_grain(), *self._spirits(), *self._stock(), *self._operations(), *self._duty()]

    def _plant_and_grain(self) -> list[AskedFor]:
        grain = {"material": MaterialKind.MALT.value}
        return [
            AskedFor(
                "Approval, premises, vessels and their use",
                _link("Site: approval and vessels", "site"),
                _print("Vessels", "site", prefix=VesselTable.name),
                _link("Instruments and tables", "instruments"),
            ),
            AskedFor(
                "Grain bought and used",
                _link("Lots of malt, bought and used", "stores", **grain),
                _print("Lots of malt", "stores", **grain),
                self._records(sheet_of("intake")),
            ),
            AskedFor(
                "Yield of a period",
                _link("Distillation periods", "distillation_periods"),
                _print("Distillation periods", "distillation_periods"),
                Link("Yields of the month", reverse("month", args=[self._period])),
            ),
        ]

    def _spirits(self) -> list[AskedFor]:
        runs = sheet_of("spirit_run")
        run = self._newest(runs)
        batch = self._newest(sheet_of("bottling")) or run
        return [
            AskedFor(
                "One batch from mash to cask and bottle",
                Link(f"Trace of {batch.number}" if batch else "Trace", trace_address(batch.number if batch else "")),
                Link("Print the trace", trace_address(batch.number, "trace_pdf")) if batch else _link("Trace", "trace"),
                _link("Trace of another number", "trace"),
            ),
            AskedFor(
                "Spirits account of a day",
                self._records(runs),
                Link(f"Print {run.number}", record_address(run, "record_pdf")) if run else self._printed(runs),
                Link(f"The newest, {run.number}", record_address(run)) if run else None,
            ),
        ]

    def _stock(self) -> list[AskedFor]:
        samples, owners, opening = sheet_of("sample"), sheet_of("cask_owner"), sheet_of("warehouse_opening")
        return [
            AskedFor(
                "Where a cask is, and where it was",
                _link("Casks by number, place and owner", "warehouse"),
                _print("Casks", "warehouse"),
                _link("Where they lie", "lying"),
            ),
            AskedFor(
                "Stock on a day, by book and as found",
                _link("Stock at the end of the last day", "stock_on", on=self._day),
                _print("Casks on that day", "stock_casks", prefix=CASKS, on=self._day),
                _link("Stock takes, with what was apart", "stock_takes"),
            ),
            AskedFor(
                "Losses and what was done about them",
                _link("Loss register", "losses", month=self._period),
                Link("Print the register", reverse("losses_pdf", args=[self._period])),
                _link("Findings of the month", "findings", month=self._period),
            ),
            AskedFor(
                "What was set off against what",
                _link("Enquiries, those about one event tied", "enquiries"),
                _print("Enquiries", "enquiries"),
                _link("Gains and losses, listed apart", "losses", month=self._period),
            ),
            AskedFor("Samples", self._records(samples), self._printed(samples)),
            AskedFor(
                "Whose the casks are",
                _link("Casks with their owners", "warehouse"),
                self._printed(owners),
                self._records(owners),
            ),
            AskedFor(
                "Keyholders and opening times",
                _link("Keyholders", "warehouses_kept"),
                _print("Keyholders", "warehouses_kept", prefix=KeyholderTable.name),
                self._records(opening),
            ),
        ]

    def _operations(self) -> list[AskedFor]:
        return [
            AskedFor(
                "Operations: what went in and out, and the difference",
                _link("Movements", "movements", **self._days),
                _print("Movements", "movements", **self._days),
                _link("Accounts of the vessels", "accounts"),
            ),
            AskedFor(
                "Movements in duty suspension",
                _link("Removals under bond", "removals", kind=UNDER_BOND, **self._days),
                _print("Removals under bond", "removals", kind=UNDER_BOND, **self._days),
                _link("What is awaited", "removals"),
            ),
            AskedFor(
                "Corrections, with who, when and why",
                _link("Late, missing, struck or put right", "entries_changed", month=self._month),
                _print("Entries of the month", "entries_changed", month=self._month),
                _link("All changes to one thing", "all_changes"),
            ),
            AskedFor(
                "Old records",
                _link("Records of every kind", "records"),
                Link("Stock account of the first month", reverse("month_pdf", args=[self._first_period])),
                _link("Officer's bundle of these months", "officer_bundle"),
            ),
        ]

    def _duty(self) -> list[AskedFor]:
        quarter = self._months.last.quarter or f"{self._month[:4]}-Q{(int(self._month[5:]) + 2) // 3}"
        return [
            AskedFor(
                "Duty account and returns",
                _link("Duty account", "duty_account", month=self._month),
                Link("Return figures of the month", reverse("return_pdf", args=[self._month])),
                Link("Return of the month", reverse("return_page", args=[self._month])),
            ),
            AskedFor(
                "Production figures of the quarter",
                Link(f"Quarter {quarter}", reverse("return_page", args=[quarter])),
                Link("Print the quarter", reverse("return_pdf", args=[quarter])),
                _link("All returns", "returns"),
            ),
        ]

    def _records(self, sheet: Sheet) -> Link:
        return Link(sheet.plural, f"{reverse('record_list', args=[sheet.kind])}?{urlencode(self._days)}")

    def _printed(self, sheet: Sheet) -> Link:
        asked = urlencode(self._days | {"as": PDF})
        return Link(f"Print {sheet.plural.lower()}", f"{reverse('record_list', args=[sheet.kind])}?{asked}")

    def _newest(self, sheet: Sheet) -> Record | None:
        """The newest record of a kind in these months that is complete."""
        there = Record.objects.filter(kind=sheet.kind, state=State.COMPLETE)
        in_time = there.filter(happened_from__gte=self._months.first.starts, happened_from__lt=self._months.last.ends)
        return in_time.order_by("-happened_from", "-pk").first()


def _link(text: str, name: str, **asked: str) -> Link:
    return Link(text, reverse(name) + (f"?{urlencode(asked)}" if asked else ""))


def _print(text: str, name: str, *, prefix: str = "", **asked: str) -> Link:
    """A list of a page on paper; `prefix` is the name of the list where its page has several."""
    return _link(f"Print {text[:1].lower()}{text[1:]}", name, **asked, **{f"{prefix}-as" if prefix else "as": PDF})
