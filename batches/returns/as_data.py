"""The figures of a return as plain data. Litres of pure alcohol and litres at 20 °C, pounds; amounts put right are
above nothing, whichever way they go."""

from __future__ import annotations

from typing import Any, Final

from batches.returns.came_back import BackLine
from batches.returns.containers import Containers
from batches.returns.duty_lines import ReturnLine
from batches.returns.figures import PREPARES, MonthFigures, QuarterFigures
from batches.returns.months import Due, Span
from batches.returns.quarter import Quarter
from batches.returns.suspension import INSIDE, OUTSIDE, RECEIVED, Suspended
from batches.returns.warehouse import LINES, ClassOfGoods
from distillery.plant.models import MICRO

PENCE_A_POUND: Final = 100
PENCE_HUNDREDTHS_A_POUND: Final = 10_000
GRAMS_A_TONNE: Final = 1_000_000


def as_data(figures: MonthFigures | QuarterFigures) -> dict[str, Any]:
    """The document that the command prints."""
    if isinstance(figures, QuarterFigures):
        return _said(figures.span, nil=figures.is_nil) | _quarter(figures.made) | {"movements": _numbers(figures)}
    found = _said(figures.span, nil=figures.is_nil) | {
        "duty": [_line(one) for one in figures.duty],
        "under_declared": [_line(one) | _about(one) for one in figures.under],
        "over_declared": [_line(one) | _about(one) for one in figures.over],
        "spoilt": [_back(one) for one in figures.spoilt],
        "drawback": [_back(one) for one in figures.drawback],
        "suspension": _suspension({one.line: one for one in figures.suspended}),
        "warehouse": [_class(one) for one in figures.classes],
        "movements": _numbers(figures),
        "not_known": list(figures.not_known),
    }
    return found | ({"quarter": _quarter(figures.quarter)} if figures.quarter is not None else {})


def _said(span: Span, *, nil: bool) -> dict[str, Any]:
    return {
        "period": span.code,
        "nil": nil,
        "closed": span.is_closed,
        "filed": False,
        "said": PREPARES,
        "due": [_due(one) for one in span.due()],
    }


def _due(one: Due) -> dict[str, Any]:
    day = one.day.isoformat() if one.day else None
    return {"what": one.rule.said, "day": day, "until": one.rule.until, "source": one.rule.source}


def _numbers(figures: MonthFigures | QuarterFigures) -> dict[str, list[int]]:
    return {line: list(numbers) for line, numbers in figures.movements.items()}


def _pounds(pence: int | None) -> float | None:
    return None if pence is None else pence / PENCE_A_POUND


def _rate(rate: int | None) -> float | None:
    return None if rate is None else rate / PENCE_HUNDREDTHS_A_POUND


def _line(line: ReturnLine) -> dict[str, Any]:
    sign = -1 if line.pure_ul < 0 else 1
    return {
        "tax_type": line.tax_type,
        "litres": sign * line.litres20_ul / MICRO,
        "lpa": sign * line.pure_ul / MICRO,
        "rate": _rate(line.rate),
        "duty": _pounds(None if line.pence is None else sign * line.pence),
        "duty_of_removals": _pounds(None if line.of_removals_pence is None else sign * line.of_removals_pence),
        "not_known": list(line.why),
    }


def _about(line: ReturnLine) -> dict[str, Any]:
    return {"period": line.of, "records": [number for _, number in line.records], "reason": line.reason}


def _back(line: BackLine) -> dict[str, Any]:
    return {
        "record": line.record,
        "period": line.of,
        "claim": line.claim,
        "tax_type": line.tax_type,
        "litres": line.litres20_ul / MICRO,
        "lpa": line.pure_ul / MICRO,
        "rate": _rate(line.rate),
        "duty": _pounds(line.pence),
        "not_known": [line.why] if line.why else [],
    }


def _suspension(lines: dict[str, Suspended]) -> dict[str, float]:
    received, inside, outside = lines[RECEIVED], lines[INSIDE], lines[OUTSIDE]
    return {
        "received_lpa": received.pure_ul / MICRO,
        "dispatched_lpa": (inside.pure_ul + outside.pure_ul) / MICRO,
        "dispatched_inside_uk_lpa": inside.pure_ul / MICRO,
        "dispatched_outside_uk_lpa": outside.pure_ul / MICRO,
        "received_litres": received.litres20_ul / MICRO,
        "dispatched_inside_uk_litres": inside.litres20_ul / MICRO,
        "dispatched_outside_uk_litres": outside.litres20_ul / MICRO,
    }


def _class(one: ClassOfGoods) -> dict[str, Any]:
    return {
        "category": one.stage,
        "opening_lpa": one.opening_ul / MICRO,
        "in_lpa": one.in_ul / MICRO,
        "out_lpa": one.out_ul / MICRO,
        "losses_lpa": one.losses_ul / MICRO,
        "closing_lpa": one.closing_ul / MICRO,
        "lines": {line: one.lines[line] / MICRO for line in LINES if one.lines.get(line)},
        "reasons": {line: one.reasons[line] for line in LINES if one.reasons.get(line)},
    } | _counted(one.lie_in)


def _counted(found: Containers | None) -> dict[str, Any]:
    return {} if found is None else {found.what: {"opening": found.opening, "closing": found.closing}}


def _quarter(made: Quarter) -> dict[str, Any]:
    which = [
        {"name": one.name, "outcome": str(one.outcome), "lpa": one.amount / MICRO, "because": list(one.why)}
        for one in made.of_which
    ]
    kinds = [{"kind": one.name, "lpa": one.amount / MICRO} for one in made.kinds]
    return {
        "spirits_made": {"total_lpa": made.spirits_ul / MICRO, "kinds": kinds} | ({"of_which": which} if which else {}),
        "cereals_used": [
            {
                "cereal": one.name,
                "tonnes": one.amount / GRAMS_A_TONNE,
                "records": list(dict.fromkeys(line.record for line in one.used)),
            }
            for one in made.cereals
        ],
    }
