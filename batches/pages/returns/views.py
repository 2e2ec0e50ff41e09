"""The return figures of a month or quarter on a page, as comma-separated text and on paper; the movements behind each
figure; the duty account of a month. Nothing is filed from here."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone

from batches.pages.common import signed_on
from batches.pages.returns.csv_text import as_csv
from batches.pages.returns.duty_tables import MayBeDueTable, MeasuredTable, RemovalDutyTable
from batches.pages.returns.goods_tables import (
    CEREALS,
    CerealTable,
    OfWhichTable,
    SpiritsTable,
    SuspensionTable,
    UsedTable,
    WarehouseLineTable,
    WarehouseTable,
    amount_rows,
    of_which_rows,
    suspension_rows,
    warehouse_lines,
)
from batches.pages.returns.months_table import ReturnTable, return_rows
from batches.pages.returns.printed import return_pdf
from batches.pages.returns.tables import (
    DrawbackTable,
    DutyTable,
    LineTable,
    OverTable,
    SpoiltTable,
    UnderTable,
    back_rows,
    due_in_words,
    duty_rows,
)
from batches.pages.setting_up.ways import retention
from batches.returns.declared import declared
from batches.returns.duty_point import rules_of_loss
from batches.returns.figures import (
    DRAWBACK,
    OVER,
    PREPARES,
    SPIRITS,
    SPOILT,
    UNDER,
    MonthFigures,
    QuarterFigures,
    month_figures,
    return_figures,
)
from batches.returns.losses import Missing, may_become_due
from batches.returns.months import Span, return_months, span_of
from distillery import figures
from distillery.clock.reading import books_today
from distillery.lists.showing import Listed, first_file, listed
from distillery.lists.tables import HouseTable
from distillery.pages import Fact
from distillery.people.roles import PLANT_KEEPERS, holds
from ledger.periods.calendar import NoSuchPeriod
from ledger.views.lists.movements import movements as all_movements
from ledger.views.ways import books_places


def returns(request: HttpRequest) -> HttpResponseBase:
    """Every month of which a return is or was due, the newest first."""
    found = listed(request, ReturnTable, return_rows(books_today()))
    if found.file is not None:
        return found.file
    context = {"returns": found.table, "prepares": PREPARES, "retention": retention()}
    return render(request, "batches/returns/returns.html", _in_books("returns") | context)


def _in_books(current: str) -> dict[str, Any]:
    return {"area": "books", "density": "paper", "places": books_places(current)}


def _figures(period: str) -> MonthFigures | QuarterFigures:
    try:
        return return_figures(period)
    except NoSuchPeriod as unknown:
        raise Http404(str(unknown)) from unknown


def return_page(request: HttpRequest, period: str) -> HttpResponseBase:
    """The figures of one month or quarter."""
    found = _figures(period)
    span = found.span
    lists = _quarter_lists(request, found) if isinstance(found, QuarterFigures) else _month_lists(request, found)
    if (file := first_file(*lists)) is not None:
        return file
    today = books_today()
    context = {
        "span": span,
        "prepares": PREPARES,
        "facts": _due_facts(span, today),
        "is_nil": found.is_nil,
        "is_over": span.last_day < today,
        "is_closed": span.is_closed,
        "not_known": found.not_known if isinstance(found, MonthFigures) else (),
        "enters_rates": holds(request.user, PLANT_KEEPERS),
        **_parted(lists),
        "quarter": span_of(span.quarter) if span.quarter and not span.is_quarter else None,
        "keeps_duty_account": not span.is_quarter,
    }
    return render(request, "batches/returns/figures.html", _in_books("returns") | context)


def _parted(lists: Sequence[Listed[Any]]) -> dict[str, Any]:
    """The lists that hold something, and of the others what each says of that, in one line together."""
    held = [one.table for one in lists if one.table.all_rows()]
    return {"lists": held, "none": [one.table.empty for one in lists if not one.table.all_rows()]}


def _due_facts(span: Span, today: date) -> list[Fact]:
    return [
        Fact(
            one.rule.said,
            one.rule.until if one.day is None else figures.day(one.day, year=True),
            note="" if one.day is None else f"{due_in_words(one.day, today)}; {one.rule.source}",
        )
        for one in span.due()
    ]


def _month_lists(request: HttpRequest, found: MonthFigures) -> list[Listed[Any]]:
    span = found.span
    of_quarter = _quarter_lists(request, QuarterFigures(span_of(span.quarter), found.quarter)) if found.quarter else []
    return [
        _list(request, span, DutyTable, duty_rows(span, found.duty), "duty"),
        _list(request, span, UnderTable, duty_rows(span, found.under, UNDER), "under"),
        _list(request, span, OverTable, duty_rows(span, found.over, OVER), "over"),
        _list(request, span, SpoiltTable, back_rows(span, found.spoilt, SPOILT), "spoilt"),
        _list(request, span, DrawbackTable, back_rows(span, found.drawback, DRAWBACK), "drawback"),
        _list(request, span, SuspensionTable, suspension_rows(span, found.suspended), "suspension"),
        *of_quarter,
        _list(request, span, WarehouseTable, found.classes, "warehouse"),
        _list(request, span, WarehouseLineTable, warehouse_lines(span, found.classes), "warehouse-lines"),
    ]


def _list(
    request: HttpRequest, span: Span, kind: type[HouseTable], rows: Iterable[Any], prefix: str
) -> Listed[HouseTable]:
    """One list of a month. By itself, as a file or on paper, it says of which month it is."""
    alone = f"{kind.caption}, {span.name}" if request.GET.get(f"{prefix}-as") else ""
    return listed(request, kind, rows, prefix=prefix, caption=alone)


def _quarter_lists(request: HttpRequest, found: QuarterFigures) -> list[Listed[Any]]:
    span, made, name = found.span, found.made, found.span.name
    return [
        listed(
            request,
            SpiritsTable,
            amount_rows(span, made.kinds, SPIRITS),
            prefix="spirits",
            caption=f"{SpiritsTable.caption}, {name}",
        ),
        listed(
            request,
            OfWhichTable,
            of_which_rows(span, made),
            prefix="of-which",
            caption=f"{OfWhichTable.caption}, {name}",
        ),
        listed(
            request,
            CerealTable,
            amount_rows(span, made.cereals, CEREALS),
            prefix="cereals",
            caption=f"{CerealTable.caption}, {name}",
        ),
    ]


def return_line(request: HttpRequest, period: str) -> HttpResponseBase:
    """What lies behind one figure: its movements, or the records that used a cereal."""
    found, line = _figures(period), request.GET.get("line", "")
    if not line:
        return redirect("return_page", period=period)
    shown: Listed[Any]
    if (used := _used(found, line)) is not None:
        shown = listed(request, UsedTable, used, caption=line.capitalize())
    else:
        numbers = found.movements.get(line)
        if numbers is None:
            raise Http404(f"The return of {found.span.name} has no line '{line[:80]}'.")
        rows = all_movements().filter(pk__in=numbers)
        shown = listed(request, LineTable, rows, caption=f"Movements of {line}", amounts=numbers)
    if shown.file is not None:
        return shown.file
    context = {"span": found.span, "line": line, "list": shown.table}
    return render(request, "batches/returns/line.html", _in_books("returns") | context)


def _used(found: MonthFigures | QuarterFigures, line: str) -> Any:
    if isinstance(found, MonthFigures):
        return None
    return next((one.used for one in found.made.cereals if f"{CEREALS}: {one.name}" == line), None)


def return_csv(request: HttpRequest, period: str) -> HttpResponse:
    """All figures as comma-separated text."""
    answer = HttpResponse(as_csv(_figures(period)), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="return-figures-{period}.csv"'
    return answer


def return_print(request: HttpRequest, period: str) -> HttpResponse:
    """All figures on paper."""
    printed = return_pdf(_figures(period), printed_at=timezone.now(), printed_by=signed_on(request).shown_name)
    answer = HttpResponse(printed, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="return-figures-{period}.pdf"'
    return answer


def duty_account(request: HttpRequest) -> HttpResponseBase:
    """The duty of a month by tax type, removal by removal, and what may become due on what is missing."""
    today = books_today()
    months = return_months(today)
    # The month whose return is prepared next: the newest that is over.
    newest = next((one.code for one in months if one.last_day < today), months[0].code if months else "")
    period = request.GET.get("month") or newest
    if not period:
        return render(request, "batches/returns/duty_account.html", _in_books("duty_account"))
    try:
        span = span_of(period)
    except NoSuchPeriod as unknown:
        raise Http404(str(unknown)) from unknown
    if span.is_quarter:
        raise Http404(f"The duty account goes by the month; '{period}' is a quarter.")
    found, missing = month_figures(span), may_become_due(span)
    beside = declared(found.lines)
    lists = [
        _list(request, span, DutyTable, duty_rows(span, found.duty), "duty"),
        _list(request, span, UnderTable, duty_rows(span, found.under, UNDER), "under"),
        _list(request, span, OverTable, duty_rows(span, found.over, OVER), "over"),
        _list(request, span, RemovalDutyTable, beside, "removals"),
        _list(request, span, MeasuredTable, beside, "measured"),
        _list(request, span, MayBeDueTable, missing.lines, "may-be-due"),
    ]
    if (file := first_file(*lists)) is not None:
        return file
    context = {
        "span": span,
        "months": months,
        "facts": _sums(found, missing),
        "not_known": found.not_known,
        "enters_rates": holds(request.user, PLANT_KEEPERS),
        **_parted(lists),
        "rules": rules_of_loss(span.last_day),
    }
    return render(request, "batches/returns/duty_account.html", _in_books("duty_account") | context)


def _sums(found: MonthFigures, missing: Missing) -> list[Fact]:
    within = f"{figures.count(missing.without_enquiry)} differences within their review thresholds, which allow nothing"
    address = reverse("return_page", kwargs={"period": found.span.code})
    return [
        Fact("Duty of the month", _pounds(found.duty_pence), "£", href=address, note="by tax type, as on the return"),
        Fact(
            "May become due on what is missing",
            _pounds(missing.pence),
            "£",
            note="not part of the duty above, and never netted; the law and the officer decide",
        ),
        Fact("Missing without an enquiry", figures.lpa(missing.without_enquiry_missing_ul), "LPA", note=within),
        Fact(
            "Over without an enquiry",
            figures.lpa(missing.without_enquiry_over_ul),
            "LPA",
            note="never set off",
        ),
    ]


def _pounds(pence: int | None) -> str:
    return "not known" if pence is None else figures.pounds(pence)
