"""Figures compared with their kind: softer lines, each an independent second look that breaks one more tie.

Steps hand over figures with the readings they hang on. Some can be expected from other readings: a gravity from the
wort's, a cask's strength from its vat's. They are compared with those. The others are compared with their kind: how
full casks of a size are, the average strength of a still's low wines. That is done robustly, and by the site's own
figure while there are too few. A figure without a gauged reading, such as a time or a weight of charcoal, says nothing
of the alcohol and stays out.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import date

from ledger.comparing.model.equations import Equation
from ledger.comparing.model.kinds.estimate import FEWEST_ALIKE
from ledger.comparing.observations.observed import Log, ObservedFigure, ObservedFlow, ObservedGauge, ObservedReading
from ledger.comparing.statistics.algebra.problem import RowKind
from ledger.comparing.statistics.algebra.robust import centre_and_spread

# The middle of a kind shows less spread than its tails have. So a kind is never taken for closer than the site's own
# spread says or, where the site says nothing, than this part of its centre.
_LEAST_OF_CENTRE = 0.04
_LEAST_OF_LOOKS = 0.4
# Liquid drawn or weighed on one day is about equally warm (common practice, no source), degrees Celsius.
_LEAST_CELSIUS_SPREAD = 2.0

Kind = tuple[str, str]
# What the key of a figure's line begins with.
FIGURE = "figure:"


def kind_equations(log: Log) -> list[Equation]:
    """All softer lines of a log beside those that every gauge has."""
    return [*_of_warmth(log), *_of_figures(log)]


def figures_in(lines: Iterable[Equation]) -> set[tuple[str, str]]:
    """The figures, by record and name, that are among these lines."""
    return {(line.doing.record, line.label) for line in lines if line.key.startswith(FIGURE)}


def kind_of(values: Sequence[float], least_spread: float) -> tuple[float, float] | None:
    """Centre and spread of a kind, robustly; None while there are too few."""
    if len(values) < FEWEST_ALIKE:
        return None
    centre, spread = centre_and_spread(values)
    return centre, max(spread, least_spread)


def expected_of(
    figure: ObservedFigure, learnt: Mapping[Kind, tuple[float, float]], own_variance: float = 0.0
) -> tuple[float, float] | None:
    """What a figure should be and how far it strays; None where nothing says so yet.

    `own_variance` is what its own readings do to it.
    """
    known = learnt.get((figure.name, figure.like))
    if figure.expected is not None and figure.spread and not figure.like:
        # Two readings of one thing: how far they usually lie apart is learnt. It is never taken for less than a part of
        # what the instruments scatter by.
        if known is None:
            return figure.expected, figure.spread
        # The error of the figure's own reading is a part of what was learnt. The row counts it by itself, so it is
        # taken off.
        other = max(known[1] ** 2 - own_variance, 0.0) ** 0.5
        return figure.expected + known[0], max(other, _LEAST_OF_LOOKS * figure.spread)
    if figure.like and known is not None:
        least = figure.spread or _LEAST_OF_CENTRE * abs(known[0])
        # Mates of one filling were filled by one hand on one day.
        spread = max(known[1], _LEAST_OF_LOOKS * least if figure.beside and figure.spread else least)
        return (known[0], spread) if spread > 0.0 else None
    if figure.expected is None or not figure.spread:
        return None
    return figure.expected, figure.spread


def learnt_of(figures: Sequence[ObservedFigure]) -> dict[Kind, tuple[float, float]]:
    """Centre and spread of every kind there is enough of."""
    found = {kind: kind_of(values, 0.0) for kind, values in kinds_in(figures).items()}
    return {kind: one for kind, one in found.items() if one is not None}


def kinds_in(figures: Sequence[ObservedFigure]) -> dict[Kind, list[float]]:
    """The figures' values by name and kind; of two looks at one thing, how far they are apart."""
    kinds: dict[Kind, list[float]] = defaultdict(list)
    for figure in figures:
        beside = figure.expected if not figure.like else None
        kinds[figure.name, figure.like].append(figure.value - (beside or 0.0))
    return kinds


def _of_figures(log: Log) -> list[Equation]:
    known = {one.key: one.uncertainty for event in log.events for one in event.measured.readings if one.uncertainty}
    places = {event.doing.record: order for order, event in enumerate(log.events)}
    learnt = learnt_of(log.figures)
    lines: list[Equation] = []
    # A key says which figure of its record it is and nothing of other records: an enquiry is found again by it.
    of_its_name: Counter[tuple[str, str]] = Counter()
    for figure in log.figures:
        name = figure.doing.record, figure.name
        number, of_its_name[name] = of_its_name[name], of_its_name[name] + 1
        parts = tuple((key, weight) for key, weight in figure.parts.items() if key in known)
        own = sum((weight * known[key]) ** 2 for key, weight in parts)
        expected = expected_of(figure, learnt, own) if parts and log.judged(figure.doing.record) else None
        if expected is None:
            continue
        lines.append(
            Equation(
                key=f"{FIGURE}{figure.doing.record}:{figure.name}:{number}",
                kind=RowKind.LIKENESS,
                doing=figure.doing,
                at=figure.at,
                order=places.get(figure.doing.record, 0),
                terms=(),
                constant=figure.value - expected[0],
                spread=expected[1],
                direct=parts,
                label=figure.name,
            )
        )
    return lines


def _of_warmth(log: Log) -> list[Equation]:
    """Temperatures of casks filled or weighed on the same day."""
    days: dict[tuple[str, date], list[tuple[int, ObservedFlow | ObservedGauge, ObservedReading]]] = defaultdict(list)
    for order, event in enumerate(log.events):
        warm = event.measured.reading("celsius")
        if warm is not None and warm.column and event.measured.vessel in log.casks and log.judged(event.doing.record):
            days[event.doing.operation, event.at.date()].append((order, event, warm))
    lines: list[Equation] = []
    for alike in days.values():
        kind = kind_of([warm.value for _, _, warm in alike], _LEAST_CELSIUS_SPREAD)
        if kind is None:
            continue
        lines += [
            Equation(
                key=f"temperature:{event.measured.key}",
                kind=RowKind.LIKENESS,
                doing=event.doing,
                at=event.at,
                order=order,
                terms=(),
                vessel=event.measured.vessel,
                constant=warm.value - kind[0],
                spread=kind[1],
                direct=((warm.key, 1.0),),
                label=f"temperature of {event.measured.vessel} beside casks of that day",
                vessels=(event.measured.vessel,),
            )
            for order, event, warm in alike
        ]
    return lines
