"""What a typed figure means, for the sheets, the bench and the commands alike.

Taken: digits with a point or a comma before the decimals, thousands parted by spaces, apostrophes, points or commas
where that can mean one thing only, a sign, and the unit behind it. Refused with a sentence: powers of ten (1e3),
underscores, figures of other scripts, and a comma before three digits where both readings are possible. Nobody at a
log means '1e3' or '1_000'; they come from a spreadsheet or a slip of the finger.
"""

from __future__ import annotations

import re
from decimal import Decimal, InvalidOperation

LONGEST_FIGURE = 40

# A gravity is written as relative density, 1.0603, or in degrees: 1060.3 as HMRC counts them ('OG 1.050 is 1050
# degrees', Excise Notice 226), 60.3 as a saccharometer's scale begins at water.
DEGREES = ("°", "deg", "degree", "degrees", "degrees of gravity")
THOUSAND = Decimal(1000)
LOWEST_GRAVITY, HIGHEST_GRAVITY = Decimal("0.9"), Decimal("1.2")

# How people write the units, in small letters and without full stops; the first is the unit itself.
UNITS: dict[str, tuple[str, ...]] = {
    "L": ("l", "litre", "litres", "ltr", "ltrs"),
    "mL": ("ml", "millilitre", "millilitres"),
    "cl": ("cl", "centilitre", "centilitres"),
    "mm": ("mm", "millimetre", "millimetres"),
    "kg": ("kg", "kgs", "kilo", "kilos", "kilogram", "kilograms"),
    "°C": ("°c", "c", "° c", "deg c", "degc", "celsius", "°", "deg"),
    "% vol": ("% vol", "%", "%vol", "percent", "per cent", "vol", "abv", "% abv"),
    "%": ("%", "percent", "per cent"),
    "h": ("h", "hr", "hrs", "hour", "hours"),
    "relative density": ("sg", "rd", *DEGREES),
    "LPA/t": ("lpa/t", "lpa per tonne", "l/t"),
}

_NUMBER = re.compile(r"([+\-\u2212]?)((?:[0-9][0-9 \u00a0\u202f,.']*)|(?:[.,][0-9]+))(.*)", re.DOTALL)
_PARTED_BY_SPACES = re.compile(r"[0-9]{1,3}(?:[ \u00a0\u202f'][0-9]{3})+(?:[.,][0-9]+)?")
_POWER_OF_TEN = re.compile(r"[eE][+\-\u2212]?[0-9]+")


class NotAFigure(ValueError):
    """What was typed is no figure, or can mean two; `str()` says what to write instead, without the field's name."""


def parted(typed: str) -> tuple[bool, str, str] | None:
    """Whether it is below zero, the digits with their marks, and what stands behind them; None for no figure."""
    match = _NUMBER.fullmatch(typed)
    return None if match is None else (match[1] in ("-", "\u2212"), match[2].strip(), match[3])


def plain_unit(tail: str) -> str:
    """What stands behind a figure, in small letters with single spaces and no full stops."""
    return re.sub(r"\s+", " ", tail.replace(".", " ")).strip().lower()


def readings(digits: str) -> list[Decimal]:
    """What a run of digits and marks can mean: one figure, two where a single comma parts three digits, or none."""
    if _PARTED_BY_SPACES.fullmatch(digits):
        digits = re.sub(r"[ \u00a0\u202f']", "", digits)
    if re.search(r"[ \u00a0\u202f']", digits):
        return []
    marks = re.sub(r"[0-9]", "", digits)
    try:
        if len(marks) <= 1:
            as_decimal = Decimal(digits.replace(",", "."))
            if marks == "," and re.fullmatch(r"[1-9][0-9]{0,2},[0-9]{3}", digits):
                return [as_decimal, Decimal(digits.replace(",", ""))]
            return [as_decimal]
        last = marks[-1]
        if len(set(marks)) == 1:
            # The same mark more than once can only part thousands.
            return [Decimal(digits.replace(last, ""))] if _parts_thousands(digits, last) else []
        if marks.count(last) == 1 and _parts_thousands(digits.split(last)[0], marks[0]):
            return [Decimal(digits.replace(marks[0], "").replace(last, "."))]
    except InvalidOperation:
        return []
    return []


def gravity_of(value: Decimal, written: str = "") -> Decimal | None:
    """The relative density that a figure for a gravity stands for; None where it can be none.

    0.9 to 1.2 is taken as it stands; 900 to 1200 are degrees, water being 1000; -30 to 0 and 2 to 200 with at most
    one decimal are degrees above water, as a scale is read. `written` is the unit behind it, '' for none.
    """
    in_degrees = written in DEGREES
    if LOWEST_GRAVITY <= value <= HIGHEST_GRAVITY and not in_degrees:
        return value
    if LOWEST_GRAVITY <= value / THOUSAND <= HIGHEST_GRAVITY:
        # Moved, not divided: the decimals that were written stay.
        return value.scaleb(-3)
    # Degrees are read to a tenth: 10.61 is more likely 1.061 with its point in the wrong place.
    plain = value == value.quantize(Decimal("0.1")) if abs(value) < THOUSAND else False
    if plain and (Decimal(-30) <= value <= 0 or Decimal(2) <= value <= Decimal(200) or (in_degrees and value < 2)):
        return 1 + value.scaleb(-3)
    return None


def relative_density(typed: str) -> Decimal | None:
    """The relative density that was typed for a gravity, in degrees or not; None where it is none or can be two."""
    found = parted(typed.strip())
    if found is None:
        return None
    below_zero, digits, tail = found
    written = plain_unit(tail)
    if written and written not in UNITS["relative density"]:
        return None
    taken = [gravity_of(-value if below_zero else value, written) for value in readings(digits)]
    meant = {value for value in taken if value is not None}
    return next(value for value in taken if value is not None) if len(meant) == 1 else None


def figure(typed: str, *, unit: str = "") -> Decimal:
    """The one figure that was typed, with or without its unit. Raises NotAFigure."""
    shown = typed.strip()
    if len(shown) > LONGEST_FIGURE:
        raise NotAFigure(f"this is {len(shown)} characters long; a figure has at most {LONGEST_FIGURE}.")
    found = parted(shown)
    if found is None:
        raise NotAFigure(f"'{shown}' is not a figure; type digits with a point, such as 12.5.")
    below_zero, digits, tail = found
    if _POWER_OF_TEN.fullmatch(tail) or tail.startswith("_"):
        raise NotAFigure(f"'{shown}' is not a figure; check the decimal point and write all its digits, such as 1000.")
    written = plain_unit(tail)
    if written and written not in (unit.lower(), *UNITS.get(unit, ())):
        wanted = f"a figure in {unit}" if unit else "a bare number"
        raise NotAFigure(f"'{shown}' ends in '{tail.strip()}'; write {wanted}.")
    possible = readings(digits)
    if not possible:
        raise NotAFigure(f"'{shown}' is not a figure; type digits with a point, such as 12.5.")
    if len(possible) > 1:
        small, large = sorted(possible)
        raise NotAFigure(f"'{shown}' can mean {large:f} or {small:f}; write {large:f}, or {small:f} with a point.")
    return -possible[0] if below_zero else possible[0]


def _parts_thousands(digits: str, mark: str) -> bool:
    return re.fullmatch(rf"[0-9]{{1,3}}(?:{re.escape(mark)}[0-9]{{3}})+", digits) is not None
