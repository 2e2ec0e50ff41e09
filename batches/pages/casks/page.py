"""One cask with everything of it: what it is, where, whose, what it holds, its life, its picture; and that on paper."""

from __future__ import annotations

from urllib.parse import urlencode

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from batches.casks.life import life_of
from batches.pages.casks.facts import facts_of
from batches.pages.casks.life_table import LifeTable
from batches.pages.casks.printed import cask_pdf
from batches.pages.casks.ways import books_of_the_warehouse
from batches.pages.casks.years import years_of
from batches.pages.common import signed_on
from batches.pages.places.cask_table import CaskGaugeTable
from batches.pages.recalling.said import recalls_in
from batches.pages.tracing.names import trace_address
from distillery.lists.showing import first_file, listed
from distillery.people.roles import PLANT_KEEPERS, holds
from distillery.plant.models import Kind as VesselKind
from distillery.plant.models import Vessel
from ledger.models import Account, Gauge
from ledger.statements.balances import Holding, holdings
from ledger.views.ways import account_href


def cask(request: HttpRequest, code: str) -> HttpResponseBase:
    """One cask: what is in it, since when, where that came from, and all that was written about it."""
    vessel = _cask_or_404(code)
    account, held = held_of(vessel)
    taken = Gauge.objects.standing().filter(account=account).select_related("movement")
    gauges = listed(request, CaskGaugeTable, taken, prefix="gauges")
    life = listed(request, LifeTable, life_of(vessel), prefix="life")
    if (file := first_file(gauges, life)) is not None:
        return file
    may_keep = holds(request.user, PLANT_KEEPERS)
    return render(
        request,
        "batches/cask.html",
        {
            "area": "warehouse",
            "vessel": vessel,
            "facts": facts_of(vessel, held),
            "account": account_href(account) if account else "",
            "chart": years_of(vessel, account, list(taken.order_by("happened_at", "position"))),
            "recalled": recalls_in(account),
            "trace": trace_address(vessel.code),
            "gauges": gauges.table,
            "life": life.table,
            "books": books_of_the_warehouse(),
            "change": f"{reverse('cask_entry')}?{urlencode({'cask': vessel.code})}" if may_keep else "",
        },
    )


@require_safe
def cask_print(request: HttpRequest, code: str) -> HttpResponse:
    """The same on paper, with every change of the cask."""
    vessel = _cask_or_404(code)
    account, held = held_of(vessel)
    printed = cask_pdf(vessel, account, held, printed_at=timezone.now(), printed_by=signed_on(request).shown_name)
    response = HttpResponse(printed, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="cask-{vessel.code.replace("/", "-")}.pdf"'
    return response


def _cask_or_404(code: str) -> Vessel:
    vessel = Vessel.objects.select_related("cask").filter(code=code, kind=VesselKind.CASK).first()
    if vessel is None:
        raise Http404(f"There is no cask {code}.")
    return vessel


def held_of(vessel: Vessel) -> tuple[Account | None, Holding | None]:
    account = Account.objects.filter(vessel=vessel).first()
    return account, holdings(Account.objects.filter(pk=account.pk))[0] if account else None
