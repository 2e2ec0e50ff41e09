"""Whether a day is returned upon already, so that no rate and no rounding may begin on it.

What has been declared is not worked out anew: an error in it goes on a later return as an under-declaration or an
over-declaration that names its period (HMRC, description of the figures that the Alcohol Duty return carries, 2025-26).
"""

from __future__ import annotations

from datetime import date, timedelta

from distillery import figures
from distillery.rules.setting.entering import Unsettable, closed_to


class ReturnedUpon(Unsettable):
    """The day is returned upon. `may_be_owed`: nothing was known on it, so what is owed can go on the next return."""

    def __init__(self, sentence: str, *, may_be_owed: bool) -> None:
        super().__init__("from_day", sentence)
        self.may_be_owed = may_be_owed


def not_returned_upon(day: date, *, what: str, known: bool, owed_later: bool) -> None:
    """Refuses a day of a closed month. `what` is entered, `known` says whether one was known on that day already.

    Where none was, `owed_later` lets it pass: nothing that was declared changes. Raises ReturnedUpon.
    """
    closed = closed_to()
    if closed is None or day > closed or (owed_later and not known):
        return
    said, opens = figures.day(day, year=True), figures.day(closed + timedelta(days=1), year=True)
    if known:
        raise ReturnedUpon(
            f"{said} is returned upon: its month is closed, and its {what} stays. Enter this one from {opens} on, and "
            "put what it changes of the closed month on the next return as an under-declaration or over-declaration "
            "that names that month.",
            may_be_owed=False,
        )
    raise ReturnedUpon(
        f"{said} is returned upon: its month is closed, though no {what} was known. Enter it from {opens} on; or, if "
        "it held in the closed month, say that what is owed for that goes on the next return as under-declared.",
        may_be_owed=True,
    )
