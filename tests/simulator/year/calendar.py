"""The months of the year, the hours of the simulator's clock at which things fall due, and the weeks of silence."""

from datetime import datetime, timedelta

FIRST = "2026-04"
MONTHS = 12
START = datetime(2026, 4, 1, 6)

# Weeks in which nothing is mashed: the summer's, for the plant's upkeep, and those of Christmas.
SILENT = ((datetime(2026, 7, 4), datetime(2026, 7, 27)), (datetime(2026, 12, 19), datetime(2027, 1, 4)))
MASHING_DAYS = (0, 1, 2, 3)


def months() -> list[str]:
    """The twelve months, as '2026-04'."""
    return [day.strftime("%Y-%m") for day in _firsts()[:-1]]


def _firsts() -> list[datetime]:
    places = range(START.year * 12 + START.month - 1, START.year * 12 + START.month + MONTHS)
    return [datetime(place // 12, place % 12 + 1, 1) for place in places]


class HourOf:
    """Hours of the simulator's clock, from the first morning on."""

    start = START

    def __call__(self, moment: datetime) -> float:
        return (moment - START) / timedelta(hours=1)


hour_of = HourOf()


def first_days() -> list[float]:
    """Hours at midnight of the first of each month, the first of all left out."""
    return [hour_of(day) for day in _firsts()[1:-1]]


def last_mornings() -> list[float]:
    """Hours at six in the morning of the last day of each month."""
    return [hour_of(day - timedelta(hours=18)) for day in _firsts()[1:]]


def is_silent(hours: float) -> bool:
    """Whether an hour falls into the weeks in which nothing is distilled."""
    at = START + timedelta(hours=hours)
    return any(begins <= at < ends for begins, ends in SILENT)


def mashing_hours() -> tuple[float, ...]:
    """Hours at which a mash is due: six in the morning of the mashing days outside the weeks of silence."""
    days = [24.0 * day for day in range(int(last_mornings()[-1] // 24))]
    return tuple(
        hour for hour in days if (START + timedelta(hours=hour)).weekday() in MASHING_DAYS and not is_silent(hour)
    )


def put_off(hours: float, takes: float) -> float | None:
    """When work of so many hours may begin that would go on over the end of a month; None where it may begin now.

    A house ends its runs before stock is taken and the period ends. The site's clock may be an hour ahead in summer.
    """
    for first in first_days():
        if first - takes - 1.0 < hours < first:
            return first + 2.0
    return None
