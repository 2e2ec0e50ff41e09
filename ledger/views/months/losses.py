"""The loss register of a month on a page, as comma-separated text and on paper."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.utils import timezone

from distillery.figures import ROUNDING, difference, lpa, month
from distillery.lists.showing import first_file, listed
from distillery.pages import Cell, Column, Fact, Row, Table
from distillery.people.models import Person
from ledger.enquiries.printed import loss_register_pdf
from ledger.enquiries.register import Register, as_csv, loss_register
from ledger.statements.month import NoSuchPeriod, bounds, known_periods
from ledger.views.lists.losses import DifferenceTable, GainTable, LossTable, not_asked_for
from ledger.views.ways import books_places


def _register(period: str) -> Register:
    try:
        bounds(period)
    except NoSuchPeriod as unknown:
        raise Http404(str(unknown)) from unknown
    return loss_register(period)


def losses(request: HttpRequest) -> HttpResponseBase:
    """The register of a month; the newest month unless another is asked for."""
    periods = known_periods()
    period = request.GET.get("month") or (periods[0] if periods else "")
    if not period:
        return render(
            request, "ledger/losses.html", {"area": "books", "density": "paper", "places": books_places("losses")}
        )
    register = _register(period)
    lost = listed(request, LossTable, register.losses, prefix="losses")
    gains = listed(request, GainTable, register.gains, prefix="gains")
    left_out = not_asked_for(register.differences)
    differences = listed(request, DifferenceTable, register.differences, prefix="differences", exclude=left_out)
    if (file := first_file(lost, gains, differences)) is not None:
        return file
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
            "facts": facts_of_register(register),
            "rounding": ROUNDING,
            "not_found": [one.enquiry.number for one in register.not_found],
            "causes": _sums(register.by_cause(), "By cause", "Cause"),
            "stages": _sums(register.by_stage(), "By stage", "Stage"),
            "losses": lost.table,
            "gains": gains.table,
            "differences": differences.table,
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


def facts_of_register(register: Register) -> list[Fact]:
    """The sums of a register, each difference with its word."""
    within = f"{register.within_count} within their review threshold, or too small for the instruments to tell"
    over, missing = register.open_extra_ul, register.open_missing_ul
    whole = difference(register.difference_ul)
    return [
        Fact("Known losses", lpa(register.lost_ul), "LPA", note=f"{len(register.losses)} entries"),
        Fact("Booked back", lpa(register.gained_ul), "LPA", note="listed apart, never set off by adding up"),
        Fact(
            "Missing, with an enquiry",
            difference(missing),
            "LPA",
            note="not explained as a known loss",
        ),
        Fact("Over, with an enquiry", difference(over), "LPA"),
        Fact("Missing, without an enquiry", difference(register.within_missing_ul), "LPA", note=within),
        Fact("Over, without an enquiry", difference(register.within_extra_ul), "LPA"),
        Fact("Difference in the month's account", whole, "LPA", note="the four above together"),
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
