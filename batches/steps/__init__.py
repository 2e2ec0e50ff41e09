"""The steps of the process, one room each, in the order in which the alcohol passes through them."""

from __future__ import annotations

from batches.sheets.sheet import Sheet
from batches.steps import (
    bottling,
    cask_fill,
    fermentation,
    intake,
    mash,
    opening_bottled_stock,
    opening_cask,
    opening_stock,
    reduction,
    regauge,
    removal,
    spirit_run,
    stock_take,
    third_still_run,
    transfer,
    wash_run,
)

STEPS: tuple[Sheet, ...] = (
    opening_stock.SHEET,
    opening_cask.SHEET,
    opening_bottled_stock.SHEET,
    intake.SHEET,
    mash.SHEET,
    fermentation.SHEET,
    wash_run.SHEET,
    spirit_run.SHEET,
    third_still_run.SHEET,
    transfer.SHEET,
    reduction.SHEET,
    cask_fill.SHEET,
    regauge.SHEET,
    bottling.SHEET,
    removal.SHEET,
    stock_take.SHEET,
)

_BY_KIND = {sheet.kind: sheet for sheet in STEPS}


class NoSuchStep(LookupError):
    """There is no step of that kind."""


def sheet_of(kind: str) -> Sheet:
    """The sheet of a kind of record. Raises NoSuchStep."""
    try:
        return _BY_KIND[kind]
    except KeyError:
        raise NoSuchStep(f"There is no step '{kind}'; there are: {', '.join(_BY_KIND)}.") from None
