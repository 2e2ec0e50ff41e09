"""Comparisons that failed: written down, said wherever a finding may be missing, settled by the next that succeeds.

What happened is always kept, also when its figures cannot be compared. Pages compare by `try_month` and `try_records`,
which never raise because of the figures: they give what was found, or the sentence that has to stand in its place.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from django.db import DatabaseError
from django.db.models import OuterRef, Subquery
from django.utils import timezone

from distillery import figures
from ledger.enquiries.models import ComparisonOutcome
from ledger.periods.calendar import NoSuchPeriod, name_of

if TYPE_CHECKING:
    from ledger.comparing.compare import Comparison
    from ledger.comparing.findings.finding import Finding

log = logging.getLogger(__name__)

EVERYTHING = "the whole books"


@dataclass(frozen=True, slots=True)
class Tried:
    """A comparison if there could be one, and sentences that say why a finding may be missing; none if all is well."""

    comparison: Comparison | None
    not_compared: tuple[str, ...]

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What was found; nothing where the figures could not be compared."""
        return self.comparison.findings if self.comparison is not None else ()


NOTHING_TO_COMPARE = Tried(None, ())


def try_month(period: str | None) -> Tried:
    """One month compared, or everything posted. Raises NoSuchPeriod, DatabaseError."""
    # Here and not above: every command loads this module, and few of them compare.
    from ledger.comparing.month import compare_month

    of = name_of(period) if period else EVERYTHING
    return _try(lambda: compare_month(period), of, [period] if period else None)


def try_records(records: Collection[str], periods: Collection[str]) -> Tried:
    """Some records of these periods compared with what touches them. Raises NoSuchPeriod, DatabaseError."""
    from ledger.comparing.record import compare_records

    return _try(lambda: compare_records(records), f"{', '.join(sorted(records))} and what touches it", periods)


def _try(compare: Callable[[], Comparison], of: str, periods: Collection[str] | None) -> Tried:
    noted = tuple(in_words(one) for one in standing_failures(periods))
    try:
        return Tried(compare(), noted)
    except (DatabaseError, NoSuchPeriod):
        raise
    except Exception as error:
        log.exception("The figures of %s could not be compared for a page.", of)
        return Tried(None, noted or (could_not(of, type(error).__name__),))


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
