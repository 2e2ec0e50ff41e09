"""Comparisons that failed, or are still to be made: written down, said, and settled by the next that succeeds.

What happened is always kept, also when its figures cannot be compared.
"""

from __future__ import annotations

import logging
from collections.abc import Collection, Iterator
from datetime import datetime
from typing import TYPE_CHECKING

from django.db.models import OuterRef, Subquery
from django.utils import timezone

from distillery import figures
from ledger.enquiries.models import ComparisonOutcome
from ledger.kept.models import Uncompared
from ledger.periods.calendar import name_of

if TYPE_CHECKING:
    pass

log = logging.getLogger(__name__)

EVERYTHING = "the whole books"


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
