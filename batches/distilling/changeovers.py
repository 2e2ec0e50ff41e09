"""Changeovers within a distillation period: each ends the product of its still, and with it the period it lies in.

The class of spirits changes with the product, so runs of the same still that are charged after one belong to the next
period (Spirits Regulations 1991, SI 1991/2564, regulations 10 and 11, as made; superseded, same practice).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from batches.distilling.periods import Period, StillRun
from batches.models import Mention, Record, State
from batches.sheets.register import all_sheets
from batches.sheets.site import Site


@dataclass(frozen=True, slots=True)
class ProductEnd:
    """A record that ended the product of a still in a period: what it says of the products, and how many runs of that
    still were charged in the period after it."""

    record: Record
    still: str
    said: str
    runs_after: int

    @property
    def at(self) -> datetime:
        """When the still was ready for another product."""
        return self.record.happened_from


def product_ends(period: Period, runs: Sequence[StillRun], site: Site) -> list[ProductEnd]:
    """The changeovers of the stills of a period's runs within it, in order. One query, none without runs."""
    stills = {code for run in runs if (code := run.typed.get(run.sheet.occupies, ""))}
    ends = {sheet.kind: sheet for sheet in all_sheets() if sheet.ends_product}
    if not stills or not ends:
        return []
    named = Mention.objects.filter(
        record__kind__in=ends,
        record__happened_from__gte=period.opened_at,
        record__happened_from__lte=period.until,
        what=Mention.What.VESSEL,
        field__in={sheet.ends_product for sheet in ends.values()},
        code__in=stills,
    )
    found = []
    for one in named.exclude(record__state=State.VOID).select_related("record").order_by("record__happened_from", "pk"):
        record, typed = one.record, site.typed_of(one.record)
        said = " to ".join(text for name in ends[record.kind].tells if (text := typed.get(name, "")))
        after = [
            run
            for run in runs
            if run.typed.get(run.sheet.occupies, "") == one.code and run.charged_at >= record.happened_from
        ]
        found.append(ProductEnd(record, one.code, said, len(after)))
    return found
