"""Slips: the ways a value is commonly written wrong, and what they say for or against an explanation.

A wrong reading has a size: b = written − right. From the written value and what stands around it this module lists the
right values that a known kind of slip would have turned into the written one. Values that cannot be right are left out.

If b agrees with one of the list, that is evidence for a slip. It is weighed by a Bayes factor against an error of any
size within a range. A neat number must not overrule the balances, so 2 ln of the factor is held within ±10. Where the
listed values lie closer together than b is known, as with bottles in sixes, the factor is about 1 and says nothing.
Almost any error is near a single wrong digit, so single digits are weighed apart and never speak for a slip.

Values are in the unit of the reading: mm, °C, % vol, relative density, kg or a count. The lists of slips and the limits
of what can be right are common practice, no source. The factor and its scale: Kass and Raftery, J. Am. Stat. Assoc. 90
(1995) 773-795, section 3.2 (from memory).
"""

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

from msgspec import Struct

# Bound of 2 ln (Bayes factor), either way.
EVIDENCE_LIMIT = 10.0
# A slip matches when b lies within this many u_b of its size.
MATCH_WITHIN = 2.0
_FURTHEST_FROM_LAST_CELSIUS = 15.0
_SAME_VALUE = 1e-9


class ReadingKind(StrEnum):
    DIP = "dip"
    TEMPERATURE = "temperature"
    HYDROMETER = "hydrometer"
    GRAVITY = "gravity"
    WEIGHT = "weight"
    COUNT = "count"
    METER = "meter"


# What a right value of each kind can be at all; the vessel's own limits come with the written value.
_POSSIBLE: dict[ReadingKind, tuple[float, float]] = {
    ReadingKind.DIP: (0.0, math.inf),
    ReadingKind.TEMPERATURE: (0.0, 45.0),
    ReadingKind.HYDROMETER: (0.0, 97.0),
    ReadingKind.GRAVITY: (0.9, 1.2),
    ReadingKind.WEIGHT: (0.0, math.inf),
    ReadingKind.COUNT: (0.0, math.inf),
    ReadingKind.METER: (0.0, math.inf),
}
_ROUND_STEPS: dict[ReadingKind, tuple[float, ...]] = {
    ReadingKind.DIP: (10.0, 50.0, 100.0, 200.0, 500.0, 1000.0),
    ReadingKind.TEMPERATURE: (10.0, 20.0),
    ReadingKind.HYDROMETER: (1.0, 2.0, 3.0, 5.0, 10.0),
    ReadingKind.GRAVITY: (0.001, 0.002, 0.005, 0.010, 0.100),
    ReadingKind.WEIGHT: (1.0, 10.0, 20.0, 50.0, 100.0),
    ReadingKind.COUNT: (),
    ReadingKind.METER: (),
}


class SlipKind(StrEnum):
    ROUND_STEP = "round step"
    DECIMAL_PLACE = "decimal place"
    SWAPPED_DIGITS = "two digits swapped"
    EXCHANGED = "exchanged"
    NEIGHBOUR = "neighbouring line or column"
    LAST_VALUE = "last value of the vessel"
    NOT_CORRECTED = "temperature not corrected"
    OTHER_STEM = "wrong stem of the set"
    TARE = "tare forgotten or entered twice"
    WHOLE_CASES = "whole cases"
    ONE_DIGIT = "one digit wrong"
    MOVEMENT = "a movement's amount"


class Slip(Struct, frozen=True):
    """One natural error: its kind, its size (written − right) and, for a reading, the right value."""

    kind: SlipKind
    size: float
    right_value: float | None = None
    about: str = ""


class Written(Struct, frozen=True):
    """A value as it stands on the sheet, with what stood around it.

    All values are in the unit of the reading.

    - `decimals`: how many were written (0 or more).
    - `lowest`, `highest`: limits of the right value, such as the ends of the dip table.
    - `size_range`: the range R (above 0) within which an error of no listed kind could lie, such as the length of the
      dip table or the span of the stem.
    - `previous`: the vessel's last value.
    - `neighbours`: name and value of the same field on the lines beside it, or at the other vessel.
    - `counterpart`: the value it may have been exchanged with: before and after, OG and FG, gross and tare.
    - `tare`: the usual tare of the cask. `stem_steps`: how far the other stems of the set read off. `case_size`:
      bottles in a case.
    """

    kind: ReadingKind
    value: float
    size_range: float
    decimals: int = 0
    lowest: float = -math.inf
    highest: float = math.inf
    previous: float | None = None
    neighbours: tuple[tuple[str, float], ...] = ()
    counterpart: float | None = None
    tare: float | None = None
    stem_steps: tuple[float, ...] = ()
    case_size: int = 6


@dataclass(frozen=True, slots=True)
class SlipEvidence:
    """What the slip list says of an estimated size: Bayes factor, its bounded 2 ln, and the slips that fit."""

    bayes_factor: float
    two_ln: float
    matches: tuple[Slip, ...]


NO_EVIDENCE = SlipEvidence(1.0, 0.0, ())


def possible_limits(written: Written) -> tuple[float, float]:
    """Lowest and highest right value: of its kind, of its vessel, and (temperature) near the vessel's last."""
    lowest, highest = _POSSIBLE[written.kind]
    if written.kind is ReadingKind.TEMPERATURE and written.previous is not None:
        lowest = max(lowest, written.previous - _FURTHEST_FROM_LAST_CELSIUS)
        highest = min(highest, written.previous + _FURTHEST_FROM_LAST_CELSIUS)
    return max(lowest, written.lowest), min(highest, written.highest)


def is_possible(written: Written, size: float, standard_uncertainty: float = 0.0) -> bool:
    """Whether the right value written − size could be true, given ±2 standard uncertainties."""
    lowest, highest = possible_limits(written)
    allowance = MATCH_WITHIN * standard_uncertainty
    return lowest - allowance <= written.value - size <= highest + allowance


def nearest_possible_size(written: Written, size: float) -> float:
    """The size nearest to `size` whose right value lies within the limits."""
    lowest, highest = possible_limits(written)
    return written.value - max(lowest, min(highest, written.value - size))


@lru_cache(maxsize=2048)
def candidate_slips(written: Written) -> tuple[Slip, ...]:
    """Every natural slip that would leave a possible right value, each right value once, the most telling first."""
    found: dict[int, Slip] = {}
    lowest, highest = possible_limits(written)
    step = max(_SAME_VALUE, 1e-6 * 10.0**-written.decimals)
    for source in _SOURCES:
        for slip in source(written):
            right = slip.right_value
            if right is None or not lowest <= right <= highest or abs(slip.size) < step:
                continue
            found.setdefault(round(right / step), slip)
    return tuple(found.values())


def bayes_factor(
    size: float,
    standard_uncertainty: float,
    slip_sizes: Sequence[float],
    size_range: float,
    reading_uncertainty: float = 0.0,
) -> float:
    """R · (1/m) Σ N(b; s, u²): how much likelier b is under the m slips than under any size within the range R.

    All in the unit of the reading; `size_range` is R. `standard_uncertainty` is u_b, which contains the reading's own
    uncertainty where V did. Where V did not, that is given as `reading_uncertainty`, and the two are added as squares.
    The result is 0 or more; 1 means no evidence, as without slips. Raises ValueError unless the combined uncertainty
    and the range are above 0.
    """
    if not slip_sizes:
        return 1.0
    spread = math.hypot(standard_uncertainty, reading_uncertainty)
    if not (spread > 0.0 and size_range > 0.0):
        raise ValueError("Slip evidence needs an uncertainty and a range of sizes above zero.")
    densities = math.fsum(math.exp(-0.5 * ((size - slip) / spread) ** 2) for slip in slip_sizes)
    return size_range / len(slip_sizes) * densities / (spread * math.sqrt(2.0 * math.pi))


def weigh_slips(slips: Sequence[Slip], size: float, standard_uncertainty: float, size_range: float) -> SlipEvidence:
    """Evidence of a slip list for an estimated size b ± u_b, with the slips that fit, closest first."""
    if not slips or size_range <= 0.0:
        return NO_EVIDENCE
    factor = _weighed_factor(slips, size, standard_uncertainty, size_range)
    two_ln = 2.0 * math.log(factor) if factor > 0.0 else -EVIDENCE_LIMIT
    fitting = [slip for slip in slips if abs(size - slip.size) <= MATCH_WITHIN * standard_uncertainty]
    fitting.sort(key=lambda slip: (slip.kind is SlipKind.ONE_DIGIT, abs(size - slip.size)))
    return SlipEvidence(factor, max(-EVIDENCE_LIMIT, min(EVIDENCE_LIMIT, two_ln)), tuple(fitting))


def _weighed_factor(slips: Sequence[Slip], size: float, standard_uncertainty: float, size_range: float) -> float:
    """The Bayes factor of a slip list in which a single wrong digit is no evidence for a reading.

    Nearly every error is near some single digit of the written figure. So of that part of the list no more is counted
    than 'any size' would give: it keeps a size from being unlike every slip, and never speaks for it.
    """
    telling = [slip.size for slip in slips if slip.kind is not SlipKind.ONE_DIGIT]
    digits = [slip.size for slip in slips if slip.kind is SlipKind.ONE_DIGIT]
    if not digits:
        return bayes_factor(size, standard_uncertainty, telling, size_range)
    weak = len(digits) * min(1.0, bayes_factor(size, standard_uncertainty, digits, size_range))
    strong = len(telling) * bayes_factor(size, standard_uncertainty, telling, size_range) if telling else 0.0
    return (strong + weak) / len(slips)


def weigh_written(written: Written, size: float, standard_uncertainty: float) -> SlipEvidence:
    """Evidence of a written value's own slips for an estimated error b ± u_b."""
    return weigh_slips(candidate_slips(written), size, standard_uncertainty, written.size_range)


def _leaving(written: Written, kind: SlipKind, right: float, about: str = "") -> Slip:
    return Slip(kind, written.value - right, right, about)


def _round_steps(written: Written) -> Iterator[Slip]:
    for step in _ROUND_STEPS[written.kind]:
        for signed in (step, -step):
            yield _leaving(written, SlipKind.ROUND_STEP, written.value + signed)


def _decimal_place(written: Written) -> Iterator[Slip]:
    if written.value:
        for factor in (10.0, 0.1, 100.0):
            yield _leaving(written, SlipKind.DECIMAL_PLACE, written.value * factor)


def _swapped_digits(written: Written) -> Iterator[Slip]:
    text = _as_written(written)
    places = [place for place, character in enumerate(text) if character.isdigit()]
    for index, first in enumerate(places):
        for second in places[index + 1 :]:
            if text[first] != text[second]:
                digits = list(text)
                digits[first], digits[second] = digits[second], digits[first]
                yield _leaving(written, SlipKind.SWAPPED_DIGITS, float("".join(digits)))


def _one_digit(written: Written) -> Iterator[Slip]:
    text = _as_written(written)
    for place, character in enumerate(text):
        if character.isdigit():
            for digit in "0123456789":
                if digit != character:
                    right = float(text[:place] + digit + text[place + 1 :])
                    yield _leaving(written, SlipKind.ONE_DIGIT, right)


def _surroundings(written: Written) -> Iterator[Slip]:
    if written.counterpart is not None:
        yield _leaving(written, SlipKind.EXCHANGED, written.counterpart)
    for name, value in written.neighbours:
        yield _leaving(written, SlipKind.NEIGHBOUR, value, name)
    if written.previous is not None:
        yield _leaving(written, SlipKind.LAST_VALUE, written.previous)


def _of_its_kind(written: Written) -> Iterator[Slip]:
    if written.kind is ReadingKind.TEMPERATURE:
        yield _leaving(written, SlipKind.NOT_CORRECTED, 20.0)
    for step in written.stem_steps:
        yield _leaving(written, SlipKind.OTHER_STEM, written.value + step)
    if written.tare is not None:
        for right in (written.value + written.tare, written.value - written.tare):
            yield _leaving(written, SlipKind.TARE, right)
    if written.kind is ReadingKind.COUNT and written.case_size > 0:
        cases = int(0.5 * written.size_range / written.case_size)
        for count in range(1, cases + 1):
            for signed in (count, -count):
                yield _leaving(written, SlipKind.WHOLE_CASES, written.value + signed * written.case_size)


def _as_written(written: Written) -> str:
    return f"{written.value:.{written.decimals}f}"


_SOURCES: tuple[Callable[[Written], Iterable[Slip]], ...] = (
    _round_steps,
    _decimal_place,
    _swapped_digits,
    _surroundings,
    _of_its_kind,
    _one_digit,
)
