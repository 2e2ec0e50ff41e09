"""The books: months, one month's account on screen and paper, findings and one finding."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone

from distillery.figures import SIGNED, litres, lpa, moment, month, percent, pounds
from distillery.pages import LOOK, OUT, BalanceLine, Cell, Column, Fact, Link, Row, Table
from distillery.people.models import Person
from distillery.plant.models import MICRO, Stage
from ledger.comparing.findings import ENQUIRY, Finding, findings
from ledger.month import MonthAccount, NoSuchPeriod, StageLine, bounds, known_periods, month_account
from ledger.printed import month_account_pdf
from ledger.views.ways import SIGN_OF_DIFFERENCE, account_href, books_places, record_href

FIGURES = ("Opening", "In", "Out", "Known losses", "Should be", "Measured", "Difference")


def books(request: HttpRequest) -> HttpResponse:
    """The months there are, newest first."""
    periods = [
        Link(month(bounds(period)[0]), reverse("month", kwargs={"period": period})) for period in known_periods()
    ]
    return render(
        request,
        "ledger/books.html",
        {"area": "books", "density": "paper", "places": books_places("books"), "periods": periods},
    )


def _account(period: str) -> MonthAccount:
    try:
        return month_account(period)
    except NoSuchPeriod as unknown:
        raise Http404(str(unknown)) from unknown


def month_page(request: HttpRequest, period: str) -> HttpResponse:
    """The account of one month."""
    account = _account(period)
    open_findings = findings(period)
    site = account.site
    return render(
        request,
        "ledger/month.html",
        {
            "area": "books",
            "density": "paper",
            "places": books_places("books"),
            "account": account,
            "name": month(account.starts),
            "line": BalanceLine(
                opening_ul=site.opening_ul,
                in_ul=site.in_ul,
                out_ul=site.out_ul,
                known_losses_ul=site.loss_ul,
                should_be_ul=site.should_be_ul,
                measured_ul=site.closing_ul,
                difference_ul=site.difference_ul,
                state=LOOK if open_findings else None,
                note=SIGN_OF_DIFFERENCE,
            ),
            "stages": _stages(account),
            "losses": _pairs("Known losses by cause", "Cause", account.losses, "No known losses in this month."),
            "differences": _pairs(
                "Differences nobody has explained", "Where", account.differences, "No differences in this month."
            ),
            "removals": _removals(account),
            "vessels": _vessels(account),
            "findings": finding_table(open_findings, period),
        },
    )


def _stages(account: MonthAccount) -> Table:
    return Table(
        caption="By stage",
        note="litres of pure alcohol",
        columns=(Column("Stage"), *(Column(head, numeric=True) for head in FIGURES)),
        rows=[Row(_stage(line, Stage(line.stage).label)) for line in account.stages],
        empty="Nothing was posted in this month.",
        total=Row(_stage(account.site, "Site"), total=True),
        wide=True,
    )


def _stage(line: StageLine, name: str) -> list[Cell]:
    figures = (
        line.opening_ul, line.in_ul, line.out_ul, line.loss_ul, line.should_be_ul, line.closing_ul, line.difference_ul
    )  # fmt: skip
    return [Cell(name), *(Cell(lpa(one)) for one in figures)]


def _pairs(caption: str, head: str, pairs: tuple[tuple[str, int], ...], empty: str) -> Table:
    return Table(
        caption=caption,
        columns=(Column(head), Column("Alcohol", numeric=True, unit="LPA")),
        rows=[Row([Cell(name.capitalize()), Cell(lpa(amount))]) for name, amount in pairs],
        empty=empty,
    )


def _removals(account: MonthAccount) -> Table:
    return Table(
        caption="Removals",
        columns=(Column("Kind"), Column("Alcohol", numeric=True, unit="LPA"), Column("Duty", numeric=True, unit="£")),
        rows=[
            Row([
                Cell(removal.kind.capitalize()),
                Cell(lpa(removal.pure_ul, 4)),
                Cell(pounds(removal.pence) if removal.pence else "None due"),
            ])
            for removal in account.removals
        ],
        empty="Nothing left the site in this month.",
    )  # fmt: skip


def _vessels(account: MonthAccount) -> Table:
    return Table(
        caption="Vessels at the end of the month",
        columns=(
            Column("Vessel"), Column("Alcohol", numeric=True, unit="LPA"),
            Column("Bulk at 20 °C", numeric=True, unit="L"), Column("Strength", numeric=True, unit="% vol"),
        ),
        rows=[
            Row([
                Cell(holding.account.name, href=f"{account_href(holding.account)}?month={account.period}"),
                Cell(lpa(holding.pure_ul)),
                Cell("Gauge to tell" if holding.litres20 is None else litres(holding.litres20)),
                Cell("Empty" if holding.percent20 is None else percent(holding.percent20)),
            ])
            for holding in account.vessels
        ],
        empty="No vessels are set up.",
    )  # fmt: skip


def month_pdf(request: HttpRequest, period: str) -> HttpResponse:
    """The printed account."""
    account = _account(period)
    assert isinstance(request.user, Person)
    printed = month_account_pdf(account, printed_at=timezone.now(), printed_by=request.user.shown_name)
    response = HttpResponse(printed, content_type="application/pdf")
    response["Content-Disposition"] = f'attachment; filename="month-account-{period}.pdf"'
    return response


def finding_table(found: list[Finding], period: str) -> Table:
    """Findings, most serious first."""
    return Table(
        caption="To be looked into",
        note="most serious first",
        columns=(
            Column("Record"), Column("What"), Column("Happened"), Column("Difference", numeric=True, unit="LPA"),
            Column("Review threshold", numeric=True, unit="LPA"),
            Column("± two standard uncertainties", numeric=True, unit="LPA"),
            Column("In short"),
        ),
        rows=[
            Row([
                Cell(
                    one.record,
                    href=reverse("finding", kwargs={"period": period, "record": one.record}),
                    state=OUT if one.kind == ENQUIRY else LOOK,
                ),
                Cell(f"{one.operation.capitalize()}: {one.kind}"),
                Cell(moment(one.at, year=True)),
                Cell(lpa(one.difference_ul)),
                Cell(lpa(one.threshold_ul)),
                Cell(lpa(round(2 * one.uncertainty_ul))),
                Cell(one.sentence),
            ])
            for one in found
        ],
        empty="Nothing is beyond its review threshold.",
        wide=True,
    )  # fmt: skip


def findings_page(request: HttpRequest) -> HttpResponse:
    """All findings of a month; the newest month unless another is asked for."""
    periods = known_periods()
    period = request.GET.get("month") or (periods[0] if periods else "")
    try:
        found = findings(period) if period else []
        if period:
            bounds(period)
    except NoSuchPeriod as unknown:
        raise Http404(str(unknown)) from unknown
    return render(
        request,
        "ledger/findings.html",
        {
            "area": "books",
            "density": "paper",
            "places": books_places("findings"),
            "period": period,
            "periods": periods,
            "table": finding_table(found, period),
        },
    )


def finding(request: HttpRequest, period: str, record: str) -> HttpResponse:
    """What was found about one record: the figures, the threshold and its basis, what would explain it."""
    named = [one for one in findings(period) if one.record == record]
    if not named:
        raise Http404(f"Nothing is open about {record} in {period}; it may have been put right.")
    return render(
        request,
        "ledger/finding.html",
        {
            "area": "books",
            "places": books_places("findings"),
            "record": record,
            "period": period,
            "shown": [(one, _facts(one), _likely(one)) for one in named],
        },
    )


def _facts(one: Finding) -> list[Fact]:
    facts = [
        Fact("Record", one.record, href=record_href(one.record_kind, one.record)),
        Fact("Happened", moment(one.at, year=True)),
        Fact("Alcohol in", lpa(one.in_ul), "LPA"),
        Fact("Difference", lpa(one.difference_ul), "LPA", note="above nothing is missing, with a minus is extra"),
        Fact("Review threshold", lpa(one.threshold_ul), "LPA", note=one.basis),
        Fact("Two standard uncertainties", lpa(round(2 * one.uncertainty_ul)), "LPA"),
    ]
    if one.percent_of_in is not None:
        facts.append(Fact("Share of the alcohol in", percent(one.percent_of_in, 2), "%"))
    if one.found_again:
        facts.append(
            Fact(
                "Found again at the next gauge",
                f"{lpa(one.found_again_ul, style=SIGNED)} LPA",
                note=f"in {one.found_again}: missing at one and found at the other is one reading, not a loss",
            )
        )
    return facts


def _likely(one: Finding) -> Table:
    return Table(
        caption="What would explain it",
        columns=(
            Column("What"), Column("Reading"), Column("Written", numeric=True), Column("Would be", numeric=True),
            Column("Leaves", numeric=True, unit="LPA"),
        ),
        rows=[
            Row([
                Cell(cause.cause.capitalize()),
                Cell(cause.field.replace("_", " ")),
                Cell(cause.written),
                Cell(cause.would_be),
                Cell(lpa(round(cause.leaves_lpa * MICRO))),
            ])
            for cause in one.likely
        ],
        empty=(
            "No single reading of the neighbouring gauges would close this. "
            "Look for a real loss, or for an entry that is missing."
        ),
    )  # fmt: skip
