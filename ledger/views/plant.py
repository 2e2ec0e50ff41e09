"""The plant as it stands: what the book of every vessel holds, along the line of the alcohol."""

from __future__ import annotations

from collections.abc import Mapping

from django.db.models import F, Sum
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from distillery.figures import lpa, moment
from distillery.pages import Cell, Column, Row, Table
from distillery.plant.models import Kind, Stage
from ledger.models import Account, StageMonth
from ledger.posting.accounts import VESSEL_ACCOUNT
from ledger.statements.at_work import AtWork, at_work, contents_of
from ledger.statements.balances import Holding, vessel_holdings
from ledger.views.ways import account_href, record_href

COLUMNS = (
    Column("Vessel"),
    Column("Name"),
    Column("Book", numeric=True, unit="LPA"),
    Column("Bulk at 20 °C", numeric=True, unit="L"),
    Column("Strength", numeric=True, unit="% vol"),
    Column("Last gauged"),
)


def plant(request: HttpRequest) -> HttpResponse:
    """Every vessel with its book contents, by stage; casks and bottles as one line each."""
    working = at_work()
    by_stage: dict[str, list[Holding]] = {stage: [] for stage in Stage.values}
    for holding in vessel_holdings():
        by_stage[holding.account.stage].append(holding)
    totals = stock_by_stage()
    tables = [
        (stage, _table(stage, holdings, totals.get(stage, 0), working))
        for stage, holdings in by_stage.items()
        if holdings or totals.get(stage)
    ]
    return render(
        request,
        "ledger/plant.html",
        {"area": "plant", "tables": tables, "site_ul": sum(totals.values())},
    )


def stock_by_stage() -> dict[str, int]:
    """Pure alcohol now in each stage, casks and bottles included: what the lines of all months let in and not out.

    From the lines and not from the accounts, of which a site may have any number; the proof holds the two together.
    """
    left = Sum(F("in_ul") - F("out_ul") - F("loss_ul") - F("difference_ul"))
    return dict(StageMonth.objects.order_by().values("stage").annotate(left=left).values_list("stage", "left"))


def _table(stage: str, holdings: list[Holding], total_ul: int, working: Mapping[int, AtWork]) -> Table:
    return Table(
        caption=Stage(stage).label,
        columns=COLUMNS,
        rows=[Row(_cells(holding, working)) for holding in holdings],
        empty="Nothing of this stage stands in a vessel; see the warehouse for casks and bottling for bottles.",
        total=Row([Cell("All of this stage"), Cell(""), Cell(lpa(total_ul)), Cell(""), Cell(""), Cell("")]),
    )


def _cells(holding: Holding, working: Mapping[int, AtWork]) -> list[Cell]:
    account: Account = holding.account
    contents, gauge = contents_of(holding, working), holding.last_gauge
    is_still = account.vessel is not None and account.vessel.kind == Kind.STILL
    last = Cell(moment(gauge.happened_at, year=True) if gauge else ("Not gauged" if is_still else "Not yet gauged"))
    if contents.held is not None:
        held = contents.held
        last = Cell(held.sentence, href=record_href(held.record_kind, held.record_number))
    return [
        Cell(account.code.removeprefix(VESSEL_ACCOUNT), href=account_href(account)),
        Cell(account.name),
        Cell(contents.alcohol),
        Cell(contents.bulk),
        Cell(contents.strength),
        last,
    ]
