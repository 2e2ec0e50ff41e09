"""The figures of a return, all of a month or of a quarter together. They are prepared here and filed nowhere."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from batches.returns.came_back import BackLine, came_back
from batches.returns.duty_lines import DutyLine, ReturnLine, duty_lines, return_lines
from batches.returns.months import Span, span_of
from batches.returns.of_which import WORDS, OfWhich
from batches.returns.quarter import Quarter, quarter_figures
from batches.returns.suspension import Suspended, suspended
from batches.returns.warehouse import ClassOfGoods, warehouse

PREPARES: Final = (
    "These figures are prepared for the return; nothing is filed from here. The producer files it, and the law and the "
    "officer decide."
)
DUTY: Final = "duty"
UNDER: Final = "under-declared"
OVER: Final = "over-declared"
SPOILT: Final = "spoilt"
DRAWBACK: Final = "drawback"
SUSPENSION: Final = "suspension"
WAREHOUSE: Final = "warehouse"
SPIRITS: Final = "spirits made"


@dataclass(frozen=True, slots=True)
class MonthFigures:
    """The figures of a month. `lines` are those of the removals one by one, `duty` those of the return."""

    span: Span
    lines: tuple[DutyLine, ...]
    duty: tuple[ReturnLine, ...]
    under: tuple[ReturnLine, ...]
    over: tuple[ReturnLine, ...]
    spoilt: tuple[BackLine, ...]
    drawback: tuple[BackLine, ...]
    suspended: tuple[Suspended, ...]
    classes: tuple[ClassOfGoods, ...]
    quarter: Quarter | None = field(default=None)

    @property
    def is_nil(self) -> bool:
        """True where nothing is declared: no duty, nothing put right, nothing back, nothing moved in suspension."""
        declared = (self.duty, self.under, self.over, self.spoilt, self.drawback)
        return not any(declared) and not any(one.pure_ul for one in self.suspended)

    @property
    def not_known(self) -> tuple[str, ...]:
        """Why a sum is not known, one sentence each."""
        lines = (why for one in (*self.duty, *self.under, *self.over) for why in one.why)
        back = (one.why for one in (*self.spoilt, *self.drawback) if one.why)
        return tuple(dict.fromkeys((*lines, *back)))

    @property
    def duty_pence(self) -> int | None:
        """Duty of the month by tax type together, before what is put right and reclaimed; None where not all known."""
        known = [one.pence for one in self.duty]
        return None if None in known else sum(one for one in known if one is not None)

    @property
    def movements(self) -> dict[str, Mapping[int, int]]:
        """The movements behind each figure, by its line, each with the pure alcohol that it brings to it."""
        found: dict[str, Mapping[int, int]] = {}
        for name, lines in ((DUTY, self.duty), (UNDER, self.under), (OVER, self.over)):
            for one in lines:
                found[line_key(name, one)] = one.movements
        for name, back in ((SPOILT, self.spoilt), (DRAWBACK, self.drawback)):
            found |= {f"{name} {one.record}": one.movements for one in back}
        found |= {f"{SUSPENSION} {one.line}": one.movements for one in self.suspended if one.movements}
        for goods in self.classes:
            for line, numbers in goods.movements.items():
                found[f"{WAREHOUSE} {goods.stage}: {line}"] = numbers
        return found


@dataclass(frozen=True, slots=True)
class QuarterFigures:
    """The figures of a quarter."""

    span: Span
    made: Quarter

    @property
    def is_nil(self) -> bool:
        """True where nothing was made and nothing used; the return says so too."""
        return self.made.is_nil

    @property
    def movements(self) -> dict[str, Mapping[int, int]]:
        """The movements behind each figure, by its line, each with the pure alcohol that it brings to it."""
        return spirits_behind(self.made)


def spirits_behind(made: Quarter) -> dict[str, Mapping[int, int]]:
    """The movements behind each figure of spirits made."""
    found = {f"{SPIRITS}: {one.name}": one.movements for one in made.kinds}
    return found | {f"{SPIRITS}: {which_key(one)}": one.movements for one in made.of_which}


def which_key(one: OfWhich) -> str:
    """'of which Scotch whisky, not proven to be'."""
    return f"of which {one.name}, {WORDS[one.outcome]}"


def line_key(name: str, line: ReturnLine) -> str:
    """What a line of the return is called: 'duty 345 at 33.99', and of what is put right its month and record too."""
    if name == DUTY:
        return f"{name} {line.key}"
    records = ", ".join(number for _, number in line.records)
    return f"{name} {line.of} {records}: {line.key}"


def return_figures(code: str) -> MonthFigures | QuarterFigures:
    """The figures of the month '2027-03' or the quarter '2027-Q1'. Raises NoSuchPeriod."""
    span = span_of(code)
    return QuarterFigures(span, quarter_figures(span)) if span.is_quarter else month_figures(span)


def month_figures(span: Span) -> MonthFigures:
    """The figures of a month, with those of the quarter that ends with it."""
    lines = duty_lines(span)
    right = return_lines((one for one in lines if one.carried), by_record=True)
    spoilt, drawback = came_back(span)
    return MonthFigures(
        span=span,
        lines=tuple(lines),
        duty=tuple(return_lines(one for one in lines if not one.carried)),
        under=tuple(one for one in right if one.pure_ul > 0),
        over=tuple(one for one in right if one.pure_ul <= 0),
        spoilt=tuple(spoilt),
        drawback=tuple(drawback),
        suspended=tuple(suspended(span)),
        classes=tuple(warehouse(span)),
        quarter=quarter_figures(span_of(span.quarter)) if span.quarter else None,
    )
