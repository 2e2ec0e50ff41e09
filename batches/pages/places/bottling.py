"""Bottling and dispatch: what is bottled and in bond, what was bottled last, what left and the duty on it."""

from __future__ import annotations

import json
from collections import defaultdict

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse

from batches.models import Record
from batches.pages.common import signed_on
from batches.pages.records.record_table import with_latest
from batches.pages.records.shown import as_text, is_figure, record_address
from batches.steps import bottling as bottling_step
from batches.steps import removal as removal_step
from distillery import figures, pages
from distillery.people.roles import may_write
from ledger.models import Account, AccountKind, Duty
from ledger.posting.duties import DutyNow, DutySum, duty_now, duty_sum
from ledger.views.ways import account_href

LATEST = 25


def bottling(request: HttpRequest) -> HttpResponse:
    """Home of bottling and dispatch."""
    return render(
        request,
        "batches/bottling.html",
        {
            "area": "bottling",
            "stock": _stock(),
            "bottlings": _bottlings(),
            "removals": _removals(),
            "writes": may_write(signed_on(request)),
            "new_bottling": reverse("record_new", args=[bottling_step.SHEET.kind]),
            "new_removal": reverse("record_new", args=[removal_step.SHEET.kind]),
            "all_bottlings": reverse("record_list", args=[bottling_step.SHEET.kind]),
            "all_removals": reverse("record_list", args=[removal_step.SHEET.kind]),
        },
    )


def _stock() -> pages.Table:
    stocks = Account.objects.filter(kind=AccountKind.STOCK).select_related("balance").order_by("name")
    rows, bottles, pure = [], 0, 0
    for account in stocks:
        balance = getattr(account, "balance", None)
        held = balance.balance_ul if balance else 0
        count = held // account.bottle_pure_ul if account.bottle_pure_ul else 0
        bottles, pure = bottles + count, pure + held
        rows.append(
            pages.Row(
                [
                    pages.Cell(account.name, href=account_href(account)),
                    pages.Cell(figures.count(count)),
                    pages.Cell(figures.lpa(held)),
                ]
            )
        )
    columns = [
        pages.Column("Stock"),
        pages.Column("Bottles", numeric=True),
        pages.Column("Book", numeric=True, unit="LPA"),
    ]
    total = pages.Row([pages.Cell("All"), pages.Cell(figures.count(bottles)), pages.Cell(figures.lpa(pure))])
    return pages.Table(
        "Bottled, in bond",
        columns,
        rows,
        empty="Nothing is bottled yet. Stock comes with a bottling.",
        total=total if rows else None,
    )


def _bottlings() -> pages.Table:
    sheet = bottling_step.SHEET
    found = with_latest(Record.objects.filter(kind=sheet.kind)).order_by("-happened_from", "-pk")[:LATEST]
    fields = [sheet.field(name) for name in sheet.list_columns]
    rows = []
    for record in found:
        typed = json.loads(getattr(record, "standing", None) or "{}")
        cells = [pages.Cell(as_text(field, typed[field.name]) if typed.get(field.name) else "") for field in fields]
        rows.append(pages.Row([pages.Cell(record.number, href=record_address(record)), *cells]))
    columns = [
        pages.Column("Bottling"),
        *(pages.Column(one.label, numeric=is_figure(one), unit=one.unit) for one in fields),
    ]
    return pages.Table("Bottled last", columns, rows, empty="No bottling yet.")


def _removals() -> pages.Table:
    sheet = removal_step.SHEET
    found = list(with_latest(Record.objects.filter(kind=sheet.kind)).order_by("-happened_from", "-pk")[:LATEST])
    lines = Duty.objects.standing().filter(
        movement__record_kind=sheet.kind,
        movement__record_number__in=[record.number for record in found],
    )
    duty: dict[str, list[DutyNow]] = defaultdict(list)
    for line in lines.select_related("movement").order_by("pk"):
        duty[line.movement.record_number].append(duty_now(line, line.movement))
    rows = []
    for record in found:
        typed = json.loads(getattr(record, "standing", None) or "{}")
        owed = duty[record.number]
        together = duty_sum(owed)
        rows.append(
            pages.Row(
                [
                    pages.Cell(record.number, href=record_address(record)),
                    pages.Cell(figures.moment(record.happened_from)),
                    pages.Cell(typed.get("product", "")),
                    pages.Cell(typed.get("bottles", "")),
                    pages.Cell(typed.get("kind", "")),
                    pages.Cell(figures.lpa(sum(one.pure_ul for one in owed), 4) if owed else ""),
                    pages.Cell(_owed(together) if owed else "none"),
                ]
            )
        )
    columns = [
        pages.Column("Removal"),
        pages.Column("Left"),
        pages.Column("Product"),
        pages.Column("Bottles", numeric=True),
        pages.Column("Left for"),
        pages.Column("Duty on", numeric=True, unit="LPA"),
        pages.Column("Duty", numeric=True, unit="£"),
    ]
    return pages.Table(
        "Left last",
        columns,
        rows,
        empty="Nothing has left yet.",
        note="duty as worked out here; the law and the officer decide",
    )


def _owed(together: DutySum) -> str:
    return "not known" if together.pence is None else figures.pounds(together.pence)
