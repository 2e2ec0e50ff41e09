"""python -m tests.simulator.year_traces LOT: prints, as one JSON document, what the traces of the books come to.

Of each bottling: the sums of its shares by kind, both ways, and the microlitres of pure alcohol that its trace follows,
that the links into it pass on, and that its vat gave by the legs of the ledger. Of the lot: what it went into, by kind.
"""

import json
import os
import sys
from collections import defaultdict
from collections.abc import Iterable
from typing import Any


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "distillery.settings")
    import django

    django.setup()
    from batches.models import Record
    from batches.tracing.trace import follow_trace, refer

    numbers = Record.objects.filter(kind="bottling").order_by("number").values_list("number", flat=True)
    reached: dict[str, list[str]] = defaultdict(list)
    for one in follow_trace(refer(sys.argv[1])).forward:
        reached[one.kind].append(one.record)
    print(json.dumps({"bottlings": {one: _bottling(one) for one in numbers}, "lot": reached}))


def _bottling(number: str) -> dict[str, Any]:
    from django.db.models import Sum

    from batches.models import Link
    from batches.tracing.trace import follow_trace, refer
    from ledger.models import AccountKind, Entry, Leg, Movement

    trace = follow_trace(refer(number))
    movements = Movement.objects.standing().filter(record_number=number)
    gave = Leg.objects.filter(movement__in=movements, account__kind=AccountKind.VESSEL).exclude(entry=Entry.GAUGING)
    return {
        "back": _sums(trace.back),
        "forward": _sums(trace.forward),
        "followed_ul": trace.behind_ul,
        "passed_ul": Link.objects.filter(taker__number=number, account__isnull=False).aggregate(of=Sum("pure_ul"))[
            "of"
        ],
        "gave_ul": -gave.aggregate(of=Sum("pure_ul"))["of"],
    }


def _sums(traced: Iterable[Any]) -> dict[str, float]:
    sums: dict[str, float] = defaultdict(float)
    for one in traced:
        sums[one.kind] += one.share
    return sums


if __name__ == "__main__":
    main()
