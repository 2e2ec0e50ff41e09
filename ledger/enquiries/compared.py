"""Comparisons for pages, commands and paper: the kept one, or the sentence that has to stand in its place.

What happened is always kept, also when its figures cannot be compared. A comparison that failed is written down, said
wherever a finding may be missing, and settled by the next that succeeds. Nothing here raises because of the figures.
"""

from __future__ import annotations

import logging
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from django.db import DatabaseError
from django.db.models import OuterRef, Subquery
from django.utils import timezone

from distillery import figures
from ledger.enquiries.models import ComparisonOutcome
from ledger.kept.models import Uncompared
from ledger.periods.calendar import NoSuchPeriod, name_of

if TYPE_CHECKING:
    from ledger.comparing.findings.detectability import Detectability
    from ledger.comparing.findings.finding import Finding
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


def could_not(of: str, error: str) -> str:
    """That figures could not be compared, in one sentence for a page."""
    return (
        f"The figures of {of} could not be compared ({error}), so a finding may be missing. Tell whoever looks after "
        "the site."
    )


def in_words(outcome: ComparisonOutcome) -> str:
    """A failure that stands, in one sentence for a page."""
    when = figures.moment(outcome.at, year=True)
    after = f" after {outcome.after}" if outcome.after else ""
    return (
        f"The figures of {name_of(outcome.period)} could not be compared {when}{after} ({outcome.error}), so a finding "
        "may be missing. They are compared again with the next entry and when the period is closed. Tell whoever "
        "looks after the site."
    )


def standing_failures(periods: Collection[str] | None = None, *, until: str = "") -> list[ComparisonOutcome]:
    """The periods (of these, or up to one) whose newest comparison failed, oldest period first."""
    newest = ComparisonOutcome.objects.filter(period=OuterRef("period")).order_by("-pk").values("pk")[:1]
    failed = ComparisonOutcome.objects.filter(pk=Subquery(newest)).exclude(error="")
    if periods is not None:
        failed = failed.filter(period__in=list(periods))
    if until:
        failed = failed.filter(period__lte=until)
    return list(failed.order_by("period"))


def behind(*, until: str) -> set[str]:
    """Periods up to one into which something was written that is not compared yet."""
    return set(Uncompared.objects.filter(period__lte=until).values_list("period", flat=True))


def note_failure(period: str, after: str, error: Exception, *, at: datetime | None = None) -> None:
    """Writes down that the figures of a period could not be compared. Inside a turn."""
    ComparisonOutcome.objects.create(
        period=period, at=at or timezone.now(), after=after, error=type(error).__name__[:100]
    )


def note_success(period: str) -> None:
    """Writes down that the figures of a period were compared again, if they could not be before. Inside a turn."""
    for failed in standing_failures([period]):
        ComparisonOutcome.objects.create(period=failed.period, at=timezone.now())


def remarks() -> Iterator[str]:
    """What the proof of the books remarks on: periods whose figures could not be compared."""
    for failed in standing_failures():
        yield in_words(failed).removesuffix(".")
