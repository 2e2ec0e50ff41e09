"""What stock takes tell the books: which bottled stock was counted, which casks were seen, who counted when.

A stock take tells of nothing before it is posted. What was posted after a period was closed is not told of it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from datetime import datetime
from typing import Any

from django.db.models import Max, Min, QuerySet

from batches.counting.models import Count, Ending
from distillery.people.models import Person
from ledger.statements.basis import Span, TakeSaid

SEEN_HOW = (Count.How.SEEN,)


def counts_in(span: Span) -> QuerySet[Count]:
    """The last count of each thing by stock takes that were posted, of those made in a span."""
    found = Count.objects.filter(
        replaced_by__isnull=True,
        take__ending__how=Ending.How.POSTED,
        at__gte=span.starts,
        at__lt=span.ends,
    )
    return found if span.closed_at is None else found.filter(take__ending__at__lt=span.closed_at)


def counted_in(span: Span, stocks: Collection[int] | None = None) -> Mapping[int, datetime]:
    """When which bottled stock was counted last."""
    found = counts_in(span).filter(what=Count.What.BOTTLES)
    if stocks is not None:
        found = found.filter(stock__in=stocks)
    return dict(found.order_by().values_list("stock_id").annotate(Max("at")))


def seen_in(span: Span, vessels: Collection[int] | None = None) -> QuerySet[Any, Any]:
    """Casks that were seen and not weighed."""
    found = counts_in(span).filter(what=Count.What.CASK, how__in=SEEN_HOW)
    return found if vessels is None else found.filter(vessel__in=vessels)


def takes_in(span: Span) -> Iterable[TakeSaid]:
    """The stock takes that counted in a span, each with who counted."""
    counts = counts_in(span).order_by()
    spans = {key: (first, last) for key, first, last in counts.values_list("take").annotate(Min("at"), Max("at"))}
    wrote = set(counts.values_list("take", "person").distinct())
    people = Person.objects.in_bulk({person for _, person in wrote})
    for one in Ending.objects.filter(take__in=spans).select_related("take", "person", "second"):
        assert one.second is not None
        yield TakeSaid(
            number=one.take.number,
            began=spans[one.take.pk][0],
            ended=spans[one.take.pk][1],
            counted_by=tuple(sorted(people[person].shown_name for take, person in wrote if take == one.take.pk)),
            names=(one.person.shown_name, one.second.shown_name),
            records=tuple(number for _, number in one.numbers),
        )
