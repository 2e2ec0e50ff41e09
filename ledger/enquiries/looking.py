"""Comparisons for pages, commands and paper: the kept one, or the sentence that has to stand in its place.

Nothing here raises because of the figures: where they cannot be compared, every page that leans on them says so.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.db import DatabaseError

from distillery import figures
from ledger.enquiries.compared import could_not, in_words, standing_failures
from ledger.periods.calendar import NoSuchPeriod, name_of

if TYPE_CHECKING:
    from ledger.comparing.findings.finding import Finding
    from ledger.comparing.findings.unseen import Detectability
    from ledger.kept.compared_month import ComparedMonth
    from ledger.kept.keeping import Kept

log = logging.getLogger(__name__)

EVERYTHING = "the whole books"


@dataclass(frozen=True, slots=True)
class Tried:
    """A comparison if there could be one, and sentences that say why a finding may be missing; none if all is well."""

    month: ComparedMonth | None
    not_compared: tuple[str, ...]
    kept: Kept | None = None

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What was found; nothing where the figures could not be compared."""
        return self.month.findings if self.month is not None else ()

    @property
    def is_behind(self) -> bool:
        """True while another makes the comparison anew."""
        return self.kept is not None and self.kept.behind > 0

    def unseen(self, record: str) -> Detectability | None:
        """What could not have been seen in the operation of a record; nothing where even the loss of all that went in
        would not show."""
        from ledger.kept.keeping import unseen_of

        found = unseen_of(self.kept, record) if self.kept is not None else None
        return found if found is not None and found.detectable < found.charge else None


NOTHING_TO_COMPARE = Tried(None, ())


def try_month(period: str) -> Tried:
    """One period compared, as it is kept where that still holds. Raises NoSuchPeriod, DatabaseError."""
    # Here and not above: every command loads this module, and few of them compare.
    from ledger.enquiries.following import take_up_what_was_left
    from ledger.kept.keeping import shown

    take_up_what_was_left(period)
    noted = tuple(in_words(one) for one in standing_failures([period]))
    try:
        kept = shown(period)
    except (DatabaseError, NoSuchPeriod):
        raise
    except Exception as error:
        return Tried(None, noted or (_failed(name_of(period), error),))
    return Tried(kept.month, (*noted, *_behind(kept)), kept)


def try_months(periods: Iterable[str]) -> list[Tried]:
    """Several periods, each as in `try_month`."""
    return [try_month(period) for period in sorted(set(periods))]


def try_everything() -> Tried:
    """Everything posted, compared as one; nothing of it is kept. Raises DatabaseError."""
    from ledger.comparing.month import compare_month
    from ledger.kept.compared_month import compared_month

    noted = tuple(in_words(one) for one in standing_failures())
    try:
        return Tried(compared_month(compare_month()), noted)
    except DatabaseError:
        raise
    except Exception as error:
        return Tried(None, noted or (_failed(EVERYTHING, error),))


def _failed(of: str, error: Exception) -> str:
    log.error("The figures of %s could not be compared for a page.", of, exc_info=error)
    return could_not(of, type(error).__name__)


def _behind(kept: Kept) -> Iterator[str]:
    """What a reader is told while another makes the comparison anew."""
    if kept.behind:
        entries = "1 entry has" if kept.behind == 1 else f"{figures.count(kept.behind)} entries have"
        yield (
            f"{entries} been written since {figures.moment(kept.made_at, year=True)}, when these figures were "
            "compared; they are being compared now. Load the page again in a moment."
        )
