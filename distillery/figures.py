"""How a figure, a date and a time are written: the same on a page, in a table of text and on paper.

Whole numbers in (microlitres of pure alcohol, grams, pence, microlitres of bulk) are printed by exact decimal
arithmetic; a float is printed from its shortest decimal form. Both round half to even on the last printed
digit. A figure always has a digit before the point, commas between thousands, and no minus on a zero.
Units are left to the column head or the caller. Times are shown on the site's clock, 24 hours.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import ROUND_HALF_EVEN, Context, Decimal
from typing import Final

from django.utils import timezone

MICROLITRES_A_LITRE: Final = 1_000_000
GRAMS_A_KILOGRAM: Final = 1_000
PENCE_A_POUND: Final = 100
LARGEST_POWER_OF_TEN: Final = 40

WEEKDAYS: Final = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS: Final = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
MONTHS_IN_FULL: Final = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)

# Which way a difference goes, beside every figure of one.
MISSING: Final = "missing"
OVER: Final = "over"

# Said beside every balance line, on pages and on paper.
SIGN_OF_DIFFERENCE: Final = (
    "Beside a difference stands 'missing' where there is less alcohol than there should be, 'over' where there is more."
)

# Said beside every account, on pages and on paper: why rounded figures need not add up to their rounded sum.
ROUNDING: Final = (
    "Litres of pure alcohol at 20 °C. Every figure is rounded by itself and sums are taken before rounding, "
    "so the last digit shown of a sum can differ by one or more."
)

# Wide enough that dividing any 64-bit count, or scaling any float of interest, loses no digit.
_EXACT: Final = Context(prec=60, rounding=ROUND_HALF_EVEN)


class UnprintableFigureError(ValueError):
    """The value is not a figure that can be written down; the sentence says which and why."""


@dataclass(frozen=True, slots=True)
class Style:
    """The marks a figure is written with."""

    minus: str = "\N{MINUS SIGN}"
    plus: str = ""
    thousands: str = ","


PAGE: Final = Style()
SIGNED: Final = Style(plus="+")
PLAIN: Final = Style(minus="-", thousands="")


def number(value: int | float | Decimal, places: int = 0, style: Style = PAGE) -> str:
    """`value` with `places` decimals (0 to 9), half to even: 1289.6 with 2 places is '1,289.60'.

    Raises UnprintableFigureError for a value that is not finite or past 10^40, or places outside the range.
    """
    if not 0 <= places <= 9:
        raise UnprintableFigureError(f"A figure is printed with 0 to 9 decimals, not {places}.")
    exact = Decimal(repr(value)) if isinstance(value, float) else Decimal(value)
    if not exact.is_finite() or exact.adjusted() > LARGEST_POWER_OF_TEN:
        raise UnprintableFigureError(
            f"There is no figure to print: the value is {value}. Check the readings behind it."
        )
    rounded = exact.quantize(Decimal(1).scaleb(-places), context=_EXACT)
    sign = "" if rounded == 0 else style.minus if rounded < 0 else style.plus
    return sign + f"{abs(rounded):,f}".replace(",", style.thousands)


def lpa(pure_ul: int, places: int = 2, style: Style = PAGE) -> str:
    """Litres of pure alcohol at 20 °C from whole microlitres: 1_289_600_000 is '1,289.60'."""
    return number(_share(pure_ul, MICROLITRES_A_LITRE), places, style)


def difference(pure_ul: int, places: int = 2, style: Style = PAGE) -> str:
    """A difference in litres of pure alcohol with the word beside it: '14.20 missing', '3.10 over', '0.00'.

    From whole microlitres, missing positive. What rounds to nothing on the last printed digit goes neither way.
    """
    amount = lpa(abs(pure_ul), places, style)
    if amount == lpa(0, places, style):
        return amount
    return f"{amount} {way(pure_ul)}"


def difference_said(pure_ul: int, places: int = 2) -> str:
    """A difference within a sentence: '14.20 LPA missing', '3.10 LPA over', '0.00 LPA'."""
    amount, _, word = difference(pure_ul, places).partition(" ")
    return f"{amount} LPA {word}".rstrip()


def way(pure_ul: int | float) -> str:
    """Which way a difference goes: alcohol missing (positive) or over (negative); '' for nothing."""
    return MISSING if pure_ul > 0 else OVER if pure_ul < 0 else ""


def litres(bulk_litres: float | Decimal | int, places: int = 1, style: Style = PAGE) -> str:
    """Litres of liquid: 5200.0 is '5,200.0'."""
    return number(bulk_litres, places, style)


def litres_from_ul(bulk_ul: int, places: int = 1, style: Style = PAGE) -> str:
    """Litres of liquid from whole microlitres, exactly."""
    return number(_share(bulk_ul, MICROLITRES_A_LITRE), places, style)


def kilograms(mass_g: int, places: int = 1, style: Style = PAGE) -> str:
    """Kilograms from whole grams: 1_234_560 is '1,234.6'."""
    return number(_share(mass_g, GRAMS_A_KILOGRAM), places, style)


def pounds(pence: int, style: Style = PAGE) -> str:
    """Pounds with two decimals from whole pence, without the pound sign: 123_456 is '1,234.56'."""
    return number(_share(pence, PENCE_A_POUND), 2, style)


def percent(value: float | Decimal | int, places: int = 1, style: Style = PAGE) -> str:
    """A percentage: 62.5 is '62.5'. The sign % is left to the column head or the caller."""
    return number(value, places, style)


def celsius(value: float | Decimal | int, places: int = 1, style: Style = PAGE) -> str:
    """A temperature in degrees Celsius: 16.1 is '16.1'."""
    return number(value, places, style)


def count(value: int, style: Style = PAGE) -> str:
    """A number of things: 12345 is '12,345'."""
    return number(value, 0, style)


def _share(whole: int, of: int) -> Decimal:
    # A float that strayed in here would be printed as if it were exact.
    if isinstance(whole, bool) or not isinstance(whole, int):
        raise UnprintableFigureError(f"A whole number is printed here, not {whole!r}. Round it where it was measured.")
    return _EXACT.divide(Decimal(whole), Decimal(of))


def day(when: date | datetime, *, year: bool | None = None) -> str:
    """'Wed 25 Nov', with the year if it is not the present one, or as `year` asks (on paper always)."""
    return _day(_on_the_site_clock(when).date() if isinstance(when, datetime) else when, year)


def _day(local: date, year: bool | None) -> str:
    shown = f"{WEEKDAYS[local.weekday()]} {local.day} {MONTHS[local.month - 1]}"
    wanted = local.year != timezone.localdate().year if year is None else year
    return f"{shown} {local.year}" if wanted else shown


def clock(when: datetime) -> str:
    """'02:12' on the site's clock; an hour that comes twice when the clocks go back also names its zone."""
    return _clock(_on_the_site_clock(when))


def _clock(local: datetime) -> str:
    other = local.replace(fold=1 - local.fold)
    zone = f" {local.tzname()}" if local.utcoffset() != other.utcoffset() else ""
    return f"{local.hour:02}:{local.minute:02}{zone}"


def moment(when: datetime, *, year: bool | None = None) -> str:
    """'Wed 25 Nov 02:12': weekday, day and time on the site's clock; `year` as for day().

    Raises UnprintableFigureError for a time without a zone.
    """
    local = _on_the_site_clock(when)
    return f"{_day(local.date(), year)} {_clock(local)}"


def month(when: date) -> str:
    """'November 2026', the name of a period of account."""
    return f"{MONTHS_IN_FULL[when.month - 1]} {when.year}"


def span(length: timedelta) -> str:
    """How long, in the two largest units that matter: '45 min', '1 h 40 min', '3 days 4 h'."""
    minutes = abs(length) // timedelta(minutes=1)
    sign = PAGE.minus if length < timedelta(0) and minutes else ""
    days, hours = minutes // 1440, minutes // 60 % 24
    if days:
        named = f"{count(days)} day{'' if days == 1 else 's'}"
        return sign + (f"{named} {hours} h" if hours else named)
    if hours:
        return sign + (f"{hours} h {minutes % 60} min" if minutes % 60 else f"{hours} h")
    return f"{sign}{minutes} min"


def _on_the_site_clock(when: datetime) -> datetime:
    if timezone.is_naive(when):
        raise UnprintableFigureError(f"The time {when:%Y-%m-%d %H:%M} has no zone. Say on which clock it was read.")
    return timezone.localtime(when)
