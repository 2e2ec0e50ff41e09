"""How much has run off by a moment, where only some moments are known: a curve that rises and has no kink.

A cubic through every known point, its slope at each chosen so that the curve never falls where the points do not
(F. N. Fritsch and J. Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300-304, the weighted harmonic mean; from memory).
Nothing is assumed of the units: hours and litres, or any others.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise


def between(known: Sequence[tuple[float, float]], along: float) -> float:
    """The height of the curve at `along`, which lies between the first and the last of at least two known points.

    Points are along and height, each further along than the one before and none lower. Raises ValueError.
    Example: through (0, 0), (1, 1) and (2, 2) it is the straight line, 1.5 at 1.5.
    """
    if len(known) < 2 or any(later[0] <= one[0] or later[1] < one[1] for one, later in pairwise(known)):
        raise ValueError("A curve needs two points or more, each further along than the one before and none lower.")
    if not known[0][0] <= along <= known[-1][0]:
        raise ValueError(f"{along:g} lies outside {known[0][0]:g} to {known[-1][0]:g}.")
    slopes = _slopes(known)
    place = next(number for number, (_, later) in enumerate(pairwise(known)) if along <= later[0])
    (start, low), (end, high) = known[place], known[place + 1]
    width = end - start
    part = (along - start) / width
    return (
        low * (1 + 2 * part) * (1 - part) ** 2
        + high * part**2 * (3 - 2 * part)
        + width * slopes[place] * part * (1 - part) ** 2
        - width * slopes[place + 1] * part**2 * (1 - part)
    )


def _slopes(known: Sequence[tuple[float, float]]) -> list[float]:
    """The slope at each point: a weighted harmonic mean of those on both sides; at the ends that of its own side."""
    widths = [later[0] - one[0] for one, later in pairwise(known)]
    rises = [(later[1] - one[1]) / width for (one, later), width in zip(pairwise(known), widths, strict=True)]
    inner = [
        _middle(before, after, *around)
        for before, after, around in zip(rises, rises[1:], pairwise(widths), strict=False)
    ]
    return [rises[0], *inner, rises[-1]]


def _middle(before: float, after: float, width: float, next_width: float) -> float:
    if before <= 0 or after <= 0:
        return 0.0
    first, second = 2 * next_width + width, next_width + 2 * width
    return (first + second) / (first / before + second / after)
