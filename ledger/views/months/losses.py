"""The loss register of a month on a page, as comma-separated text and on paper."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone

from distillery.figures import litres, lpa, moment, month, percent
from distillery.pages import Cell, Column, Fact, Row, Table
from distillery.people.models import Person
from ledger.enquiries.models import Ending
from ledger.enquiries.printed import loss_register_pdf
from ledger.enquiries.register import DifferenceLine, LossLine, Register, as_csv, loss_register
from ledger.statements.month import NoSuchPeriod, bounds, known_periods
from ledger.views.enquiries.parts import state_mark
from ledger.views.ways import books_places, record_href

NOT_STATED = "not stated"


def _register(period: str) -> Register:
    try:
        bounds(period)
    except NoSuchPeriod as unknown:
        raise Http404(str(unknown)) from unknown
    return loss_register(period)


def losses(request: HttpRequest) -> HttpResponse:
    """The register of a month; the newest month unless another is asked for."""
    periods = known_periods()
    period = request.GET.get("month") or (periods[0] if periods else "")
    if not period:
        return render(
            request, "ledger/losses.html", {"area": "books", "density": "paper", "places": books_places("losses")}
        )
    register = _register(period)
    return render(
        request,
        "ledger/losses.html",
        {
            "area": "books",
            "density": "paper",
            "places": books_places("losses"),
            "period": period,
            "periods": periods,
            "name": month(bounds(period)[0]),
            "facts": _facts(register),
            "not_found": [one.enquiry.number for one in register.not_found],
            "causes": _sums(register.by_cause(), "By cause", "Cause"),
            "stages": _sums(register.by_stage(), "By stage", "Stage"),
            "losses": _lines(register.losses, "Known losses", "No known losses in this month."),
            "gains": _lines(register.gains, "Gains: losses booked back", "Nothing was booked back in this month."),
            "differences": _differences(register.differences),
        },
    )


def losses_csv(request: HttpRequest, period: str) -> HttpResponse:
    """The register as comma-separated text."""
    answer = HttpResponse(as_csv(_register(period)), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="loss-register-{period}.csv"'
    return answer


def losses_pdf(request: HttpRequest, period: str) -> HttpResponse:
    """The printed register."""
    assert isinstance(request.user, Person)
    printed = loss_register_pdf(_register(period), printed_at=timezone.now(), printed_by=request.user.shown_name)
    answer = HttpResponse(printed, "application/pdf")
    answer["Content-Disposition"] = f'inline; filename="loss-register-{period}.pdf"'
    return answer


def _facts(register: Register) -> list[Fact]:
    within = f"{register.within_count} within their review threshold, or not told apart from nothing"
    return [
        Fact("Known losses", lpa(register.lost_ul), "LPA", note=f"{len(register.losses)} entries"),
        Fact("Booked back", lpa(register.gained_ul), "LPA", note="listed apart, never set off by adding up"),
        Fact("Missing, with an enquiry", lpa(register.open_missing_ul), "LPA", note="not explained as a known loss"),
        Fact("Extra, with an enquiry", lpa(register.open_extra_ul), "LPA"),
        Fact("Missing, without an enquiry", lpa(register.within_missing_ul), "LPA", note=within),
        Fact("Extra, without an enquiry", lpa(register.within_extra_ul), "LPA"),
        Fact("Difference in the month's account", lpa(register.difference_ul), "LPA", note="the four above together"),
    ]


def _sums(sums: list[tuple[str, int, int]], caption: str, head: str) -> Table:
    return Table(
        caption=caption,
        columns=(
            Column(head),
            Column("Lost", numeric=True, unit="LPA"),
            Column("Booked back", numeric=True, unit="LPA"),
        ),
        rows=[Row([Cell(name.capitalize()), Cell(lpa(lost)), Cell(lpa(back))]) for name, lost, back in sums],
        empty="No known losses in this month.",
        total=Row(
            [Cell("Total"), Cell(lpa(sum(lost for _, lost, _ in sums))), Cell(lpa(sum(back for _, _, back in sums)))],
            total=True,
        )
        if sums
        else None,
    )


def _lines(lines: tuple[LossLine, ...], caption: str, empty: str) -> Table:
    return Table(
        caption=caption,
        columns=(
            Column("Lost at"),
            Column("Record"),
            Column("Cause"),
            Column("Product"),
            Column("Volume", numeric=True, unit="L at 20 °C"),
            Column("Strength", numeric=True, unit="% vol"),
            Column("Alcohol", numeric=True, unit="LPA"),
            Column("Reason"),
            Column("Persons"),
            Column("Movement", numeric=True),
        ),
        rows=[
            Row(
                [
                    Cell(moment(line.at, year=True)),
                    Cell(line.record, href=record_href(line.record_kind, line.record)),
                    Cell(line.cause),
                    Cell(line.product),
                    Cell(NOT_STATED if line.litres20 is None else litres(line.litres20)),
                    Cell(NOT_STATED if line.percent20 is None else percent(line.percent20, 2)),
                    Cell(lpa(line.pure_ul)),
                    Cell(line.reason),
                    Cell(" and ".join(line.persons)),
                    Cell(str(line.movement), href=reverse("movement", kwargs={"number": line.movement})),
                ]
            )
            for line in lines
        ],
        empty=empty,
        wide=True,
    )


def _differences(lines: tuple[DifferenceLine, ...]) -> Table:
    crossed = any(one.earlier_ul for one in lines)
    return Table(
        caption="Differences and their enquiries",
        columns=(
            Column("Happened"),
            Column("Record"),
            Column("Operation"),
            Column("Product"),
            Column("Difference", numeric=True, unit="LPA"),
            Column("Explained", numeric=True, unit="LPA"),
            Column("Left", numeric=True, unit="LPA"),
            *(
                [
                    Column("In earlier months", numeric=True, unit="LPA"),
                    Column("In all its months", numeric=True, unit="LPA"),
                ]
                if crossed
                else []
            ),
            Column("Enquiry"),
            Column("State"),
        ),
        rows=[
            Row(
                [
                    Cell(moment(one.at, year=True)),
                    Cell(one.record, href=record_href(one.record_kind, one.record)),
                    Cell(one.operation),
                    Cell(one.stage),
                    Cell(lpa(one.left_ul)),
                    Cell(lpa(one.explained_ul)),
                    Cell(lpa(one.open_ul)),
                    *([Cell(lpa(one.earlier_ul)), Cell(lpa(one.in_all_ul))] if crossed else []),
                    Cell(
                        one.standing.enquiry.number,
                        href=reverse("enquiry", kwargs={"number": one.standing.enquiry.number}),
                    ),
                    Cell("" if state_mark(one.standing) else _ended(one), state=state_mark(one.standing)),
                ]
            )
            for one in lines
        ],
        empty="No difference has an enquiry in this month.",
        wide=True,
    )


def _ended(one: DifferenceLine) -> str:
    decided = one.standing.decided
    if decided is not None and decided.ending == Ending.NOT_FOUND:
        return f"{one.standing.in_words}: the law and the officer decide"
    return one.standing.in_words
