"""How a gauge or a measured flow of a record came about: its readings again, every correction with formula and source,
and what each instrument adds to the uncertainty.

The amount is worked out anew from the readings that were kept with the gauge, by `ledger.posting.gauging`, with the
table, certificates and obscuration that now stand for that day. Where this gives another amount than was posted, the
page says so, and the posted amount stands.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass

from batches.sheets.site import Site
from distillery import figures, pages
from distillery.alcoholometry.errors import AlcoholometryError
from distillery.alcoholometry.gauging.chain import GaugeChain
from distillery.plant.calibration import DipOutsideTable, NoCalibration
from distillery.plant.models import MICRO, Kind, Vessel
from distillery.rules.in_force import NoRuleInForce
from ledger.models import Gauge, MeasuredFlow
from ledger.posting.gauging import ReadingMissing, kept, measure
from ledger.views.ways import account_href, short

PLACES = {
    "mm": 0,
    "°C": 1,
    "% vol": 2,
    "% mas": 2,
    "US proof": 1,
    "degrees": 1,
    "L": 1,
    "kg": 1,
    "LPA": 3,
    "kg/m³": 2,
}
OTHER_PLACES = 5


@dataclass(frozen=True, slots=True)
class ShownMeasured:
    """One gauge or measured flow on the page: what was read, what it came to, and the way between them.

    `raw` are its readings by their names on the sheet, `vessels` the codes of the vessels it is about, `pure_ul` its
    pure alcohol in whole microlitres.
    """

    key: str
    label: str
    where: pages.Cell
    vessels: frozenset[str]
    raw: Mapping[str, str]
    litres: str
    percent: str
    lpa: str
    pure_ul: int
    uncertainty: str
    book: str
    steps: pages.Table | None
    contributions: pages.Table | None
    remark: str


def shown_gauge(gauge: Gauge, label: str, site: Site) -> ShownMeasured:
    """A gauge with its chain."""
    where = pages.Cell(short(gauge.account), href=account_href(gauge.account))
    return _shown(gauge, gauge.account.vessel, site, f"gauge-{gauge.pk}", label, where, figures.lpa(gauge.book_ul))


def shown_flow(measure: MeasuredFlow, label: str, site: Site) -> ShownMeasured:
    """A measured flow with its chain: a residue by volume and strength, a cask by weight."""
    where = pages.Cell(short(measure.giver), href=account_href(measure.giver))
    return _shown(measure, _cask_of(measure), site, f"flow-{measure.pk}", label, where, "")


def _shown(
    measured: Gauge | MeasuredFlow,
    vessel: Vessel | None,
    site: Site,
    key: str,
    label: str,
    where: pages.Cell,
    book: str,
) -> ShownMeasured:
    chain = _chain(measured, vessel, site)
    remark = ""
    if chain is None:
        remark = f"Worked out by {measured.method}; {measured.rule}."
    elif abs(chain.quantity.pure_ul - measured.pure_ul) > 1:
        remark = (
            f"By the vessel's table, certificates and obscuration as they stand now for that day these readings give "
            f"{figures.lpa(chain.quantity.pure_ul)} LPA; what was posted stands."
        )
    return ShownMeasured(
        key=key,
        label=label,
        where=where,
        vessels=frozenset({vessel.code} if vessel is not None else ()),
        raw=json.loads(measured.raw),
        litres=figures.litres_from_ul(measured.litres20_ul),
        percent=figures.percent(measured.percent20_millionths / MICRO, 2),
        lpa=figures.lpa(measured.pure_ul),
        pure_ul=measured.pure_ul,
        uncertainty=figures.lpa(measured.uncertainty_ul),
        book=book,
        steps=_steps(chain) if chain and chain.steps else None,
        contributions=_contributions(chain) if chain and chain.contributions else None,
        remark=remark,
    )


def _cask_of(measure: MeasuredFlow) -> Vessel | None:
    """A weight is of the cask at one end of the flow; other flows have no vessel of their own."""
    ends = (measure.taker.vessel, measure.giver.vessel)
    return next((vessel for vessel in ends if vessel is not None and vessel.kind == Kind.CASK), None)


def _chain(measured: Gauge | MeasuredFlow, vessel: Vessel | None, site: Site) -> GaugeChain | None:
    if not measured.chain:
        return None
    try:
        return measure(kept(measured.chain, method=measured.method, vessel=vessel), site)
    except (AlcoholometryError, DipOutsideTable, NoCalibration, NoRuleInForce, ReadingMissing):
        # The readings are shown as they are; today's tables cannot work the amount out from them.
        return None


def _steps(chain: GaugeChain) -> pages.Table:
    columns = (
        pages.Column("Step"),
        pages.Column("Value", numeric=True),
        pages.Column("Unit"),
        pages.Column("How"),
        pages.Column("Source"),
    )
    rows = [
        pages.Row(
            [
                pages.Cell(step.name),
                pages.Cell(figures.number(step.value, PLACES.get(step.unit, OTHER_PLACES))),
                pages.Cell(step.unit),
                pages.Cell(step.formula),
                pages.Cell(step.source),
            ]
        )
        for step in chain.steps
    ]
    return pages.Table("From reading to alcohol", columns, rows, empty="Nothing to work out.")


def _contributions(chain: GaugeChain) -> pages.Table:
    columns = (
        pages.Column("Reading"),
        pages.Column("With"),
        pages.Column("As read", numeric=True),
        pages.Column("Unit"),
        pages.Column("Standard uncertainty", numeric=True),
        pages.Column("One unit more", numeric=True, unit="LPA"),
        pages.Column("Contribution", numeric=True, unit="LPA"),
        pages.Column("Lasting", numeric=True, unit="%"),
    )
    rows = [
        pages.Row(
            [
                pages.Cell(row.reading.capitalize()),
                pages.Cell(row.instrument),
                pages.Cell(figures.number(row.value, PLACES.get(row.unit, 4))),
                pages.Cell(row.unit),
                pages.Cell(figures.number(row.standard_uncertainty, 4)),
                pages.Cell(figures.number(row.sensitivity_lpa, 3, figures.SIGNED)),
                pages.Cell(figures.number(row.contribution_lpa, 3, figures.SIGNED)),
                pages.Cell(figures.percent(100 * row.lasting_share, 0) if row.lasting_share else "none"),
            ]
        )
        for row in chain.contributions
    ]
    total = pages.Row(
        [
            pages.Cell("Together"),
            *(pages.Cell("") for _ in range(5)),
            pages.Cell(figures.lpa(round(chain.quantity.uncertainty_ul), 3)),
            pages.Cell(""),
        ]
    )
    return pages.Table(
        "What each reading adds to the uncertainty",
        columns,
        rows,
        empty="None.",
        wide=True,
        note="added by squares; of each square, the lasting share is common to all gauges with that instrument",
        total=total,
    )
