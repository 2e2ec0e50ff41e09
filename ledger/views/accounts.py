"""A vessel's account with its running balance, the lists of accounts and movements, and one movement with its seal."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.urls import reverse

from distillery import figures
from distillery.clock.reading import books_now
from distillery.figures import SIGN_OF_DIFFERENCE, lpa, moment
from distillery.lists.showing import first_file, listed
from distillery.pages import BalanceLine, Cell, Column, Fact, Row, Table
from distillery.plant.models import Kind
from ledger.enquiries.standing import of_account
from ledger.models import Account, AccountKind, Movement
from ledger.posting.accounts import VESSEL_ACCOUNT
from ledger.proof.chain import link_of, seal_holds
from ledger.proof.clock_back import ran_back
from ledger.statements.at_work import held_at
from ledger.statements.balances import account_totals, entries_of, holdings, opening_of
from ledger.statements.cleaned import Cleaning, cleaned
from ledger.statements.month import NoSuchPeriod, bounds, known_periods
from ledger.views.enquiries.parts import enquiry_link
from ledger.views.lists.accounts import AccountFilters, AccountTable, accounts_but_casks
from ledger.views.lists.entries import EntryFilters, EntryTable, GaugeTable, gauges_of
from ledger.views.lists.movements import MovementFilters, MovementTable
from ledger.views.lists.movements import movements as all_movements
from ledger.views.told_of_accounts import told_of
from ledger.views.ways import account_href, books_places, record_href, short


def vessel_account(request: HttpRequest, code: str) -> HttpResponseBase:
    """One account over a month: balance line, entries with running balance, gauges."""
    account, period = asked_for(request, code)
    since, until = bounds(period)
    periods = known_periods()
    entries = listed(request, EntryTable, entries_of(account, since, until), EntryFilters)
    gauges = listed(request, GaugeTable, gauges_of(account.pk), prefix="gauges")
    if (file := first_file(entries, gauges)) is not None:
        return file
    recalled, ways = told_of(account)
    line = line_of(account, period)
    return render(
        request,
        "ledger/vessel_account.html",
        {
            "area": "books",
            "density": "paper",
            "places": books_places("accounts"),
            "account": account,
            "is_boundary": account.kind not in (AccountKind.VESSEL, AccountKind.STOCK),
            "is_cask": account.vessel is not None and account.vessel.kind == Kind.CASK,
            "code": short(account),
            "period": period,
            "pdf": f"{reverse('vessel_account_pdf', args=[short(account)])}?month={period}",
            "periods": periods,
            "line": line,
            # At the end of the month shown, or now; its alcohol is in no book.
            "held": (held := held_at(account, min(until, books_now()))),
            "held_href": record_href(held.record_kind, held.record_number) if held else "",
            "held_litres": figures.litres(held.litres) if held and held.litres is not None else "",
            "cleaning": (clean := _cleaning(account)),
            "cleaning_href": record_href(clean.record_kind, clean.record_number) if clean is not None else "",
            "entries": entries.table,
            "gauges": gauges.table,
            "recalled": recalled,
            "ways": ways,
            "enquiries": [enquiry_link(one) for one in of_account(account, period)],
        },
    )


def asked_for(request: HttpRequest, code: str) -> tuple[Account, str]:
    """The account of an address and the month it is asked for, else the newest. Http404 where there is none."""
    account = Account.objects.select_related("vessel").filter(code=f"{VESSEL_ACCOUNT}{code}").first()
    if account is None:
        account = get_object_or_404(Account, code=code)
    period = request.GET.get("month") or next(iter(known_periods()), "")
    if not period:
        raise Http404("Nothing has been posted yet.")
    try:
        bounds(period)
    except NoSuchPeriod as unknown:
        raise Http404(str(unknown)) from unknown
    return account, period


def line_of(account: Account, period: str) -> BalanceLine:
    """The balance line of an account over a month."""
    opening, totals = opening_of(account, period), account_totals(account, period)
    should_be = opening + totals["in"] - totals["out"] - totals["loss"]
    return BalanceLine(
        opening_ul=opening,
        in_ul=totals["in"],
        out_ul=totals["out"],
        known_losses_ul=totals["loss"],
        should_be_ul=should_be,
        measured_ul=should_be - totals["difference"],
        difference_ul=totals["difference"],
        note=SIGN_OF_DIFFERENCE,
    )


def _cleaning(account: Account) -> Cleaning | None:
    """How its vessel stands to its cleaning now."""
    if account.vessel is None or account.vessel.kind == Kind.CASK:
        return None
    now = books_now()
    return cleaned(holdings(Account.objects.filter(pk=account.pk)), now).get(account.vessel.code)


def accounts(request: HttpRequest) -> HttpResponseBase:
    """Every account but the casks, with what it holds or has passed."""
    found = listed(request, AccountTable, accounts_but_casks(), AccountFilters)
    if found.file is not None:
        return found.file
    shown = {"area": "books", "density": "paper", "places": books_places("accounts"), "accounts": found.table}
    return render(request, "ledger/accounts.html", shown)


def movements(request: HttpRequest) -> HttpResponseBase:
    """Every movement, newest first."""
    found = listed(request, MovementTable, all_movements(), MovementFilters)
    if found.file is not None:
        return found.file
    shown = {"area": "books", "density": "paper", "places": books_places("movements"), "movements": found.table}
    return render(request, "ledger/movements.html", shown)


def movement(request: HttpRequest, number: int) -> HttpResponse:
    """One movement: its legs, its seal, what it corrects or restates, and whether the seal still holds."""
    found = get_object_or_404(
        Movement.objects.select_related("person", "second", "corrects", "restates__movement"), pk=number
    )
    link = link_of(found)
    facts = [
        Fact("Record", found.record_number, href=record_href(found.record_kind, found.record_number)),
        Fact("Happened", moment(found.took_place_at, year=True)),
        *_carried(found),
        Fact(
            "Written",
            f"{moment(found.written_at, year=True)} by {found.person.shown_name}",
            note=_clock_ran_back(found),
        ),
        Fact("Month", found.period),
    ]
    if found.second is not None:
        facts.append(Fact("Second person", found.second.shown_name))
    if found.reason:
        facts.append(Fact("Reason", found.reason))
    facts += _neighbours(found)
    return render(
        request,
        "ledger/movement.html",
        {
            "area": "books",
            "density": "paper",
            "places": books_places("accounts"),
            "movement": found,
            "facts": facts,
            "seal_holds": seal_holds(link),
            "table": Table(
                caption="Legs",
                note="they sum to nothing",
                columns=(
                    Column("Account"),
                    Column("Stage"),
                    Column("Entry"),
                    Column("In", numeric=True, unit="LPA"),
                    Column("Out", numeric=True, unit="LPA"),
                    Column("Mass", numeric=True, unit="kg"),
                ),
                rows=[
                    Row(
                        [
                            Cell(leg.account.name, href=account_href(leg.account)),
                            Cell(leg.get_stage_display() or "None"),
                            Cell(leg.get_entry_display()),
                            Cell(lpa(leg.pure_ul, 4) if leg.pure_ul > 0 else "-"),
                            Cell(lpa(-leg.pure_ul, 4) if leg.pure_ul < 0 else "-"),
                            Cell(figures.kilograms(leg.mass_g, 3)),
                        ]
                    )
                    for leg in link.legs
                ],
                empty="The gauges of this movement met their books exactly: no alcohol moved.",
            ),
        },
    )


def _clock_ran_back(found: Movement) -> str:
    before = Movement.objects.filter(pk=found.pk - 1).values_list("written_at", flat=True).first()
    if before is None or not ran_back(before, found.written_at):
        return ""
    return f"before the movement before it ({moment(before, year=True)}): the clock ran back"


def _carried(found: Movement) -> list[Fact]:
    if found.true_at is None:
        return []
    note = "its own period was closed when this was written"
    return [Fact("In the books from", moment(found.happened_at, year=True), note=note)]


def _neighbours(found: Movement) -> list[Fact]:
    facts = []
    if found.corrects is not None:
        facts.append(_to("Takes back", found.corrects))
    if found.restates is not None:
        facts.append(_to("Restates what was found by", found.restates.movement))
    facts += [_to("Taken back by", other) for other in found.corrections.all()]
    return facts


def _to(label: str, other: Movement) -> Fact:
    return Fact(label, f"movement {other.pk}", href=reverse("movement", kwargs={"number": other.pk}))
