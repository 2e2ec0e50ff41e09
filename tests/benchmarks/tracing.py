"""What a trace costs after years, beside reading every link of the site, and that both say the same.

Run from the root: `python tests/benchmarks/tracing.py [YEARS]` (10 if left out), with DATABASE_URL for PostgreSQL. The
demonstration is loaded into a scratch database; its records, links and contents are then repeated month after month by
bulk rows, each month with casks of its own, and with the feints that the month before left: so whatever is traced leads
back to the first month and on to the last. Both are dropped at the end. What is written by bulk rows is sealed by
nobody, so no proof is wanted of it.

Printed for each place: seconds of processor of this process for both ways together, for the walk and for reading all
there is, what was told, and how often the database was asked. The aim is one second on one core.
"""

from __future__ import annotations

import json
import os
import sys
import time
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from tests.benchmarks.filling import cask_accounts  # noqa: E402
from tests.running_site import Databases, run  # noqa: E402

A_MONTH = timedelta(days=31)
BATCH = 5000


def repeat(months: int) -> None:
    """The month that is there, so many times more, each fed by the feints of the one before."""
    from django.db import connection, transaction

    from distillery.database.guards import install, remove
    from distillery.trail.checks import all_guards

    everything = all_guards(connection)
    remove(connection, everything)
    try:
        with transaction.atomic():
            _repeat(months)
    finally:
        install(connection, everything)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def _repeat(months: int) -> None:
    from batches.models import Contents, Link, Record

    links = list(Link.objects.order_by("happened_at", "slot", "pk").values())
    linked = {one[end] for one in links for end in ("giver_id", "taker_id")}
    records = list(Record.objects.filter(pk__in=linked).order_by("pk").values())
    contents = list(Contents.objects.select_related("account__vessel").order_by("happened_at", "slot"))
    opening = {one["id"] for one in records if one["kind"].startswith("opening")}
    # What gave last to each place stands in its opening stock's stead a month later.
    last: dict[Any, int] = {}
    for one in links:
        if one["giver_id"] not in opening:
            last[one["account_id"]] = one["giver_id"]
    # A key of its own for each record of each month.
    apart = max(one["id"] for one in records) + 1
    for month in range(1, months):
        shift, moved = apart * month, A_MONTH * month

        def key(record: int, shift: int = shift) -> int:
            return record if record in opening else record + shift

        casks = _casks(month, {one.account_id for one in contents if _is_cask(one)})
        Record.objects.bulk_create(
            [
                Record(
                    **one
                    | {"id": key(one["id"]), "number": f"{one['number']}/{month}", "identity": ""}
                    | {name: one[name] + moved for name in ("happened_from", "opened_at")}
                )
                for one in records
                if one["id"] not in opening
            ],
            batch_size=BATCH,
        )
        Link.objects.bulk_create(
            [
                Link(
                    **{name: value for name, value in one.items() if name != "id"}
                    | {"taker_id": key(one["taker_id"]), "happened_at": one["happened_at"] + moved}
                    | {"account_id": casks.get(one["account_id"], one["account_id"])}
                    | {"giver_id": _giver(one, key, opening, last, shift - apart)}
                )
                for one in links
            ],
            batch_size=BATCH,
        )
        Contents.objects.bulk_create(
            [
                Contents(
                    account_id=casks.get(one.account_id, one.account_id),
                    happened_at=one.happened_at + moved,
                    slot=one.slot,
                    book_ul=one.book_ul,
                    shares=json.dumps({str(key(giver)): pure for giver, pure in one.by_giver().items()}),
                )
                for one in contents
            ],
            batch_size=BATCH,
        )


def _giver(
    link: dict[str, Any], key: Callable[[int], int], opening: set[int], last: dict[Any, int], before: int
) -> int:
    giver = int(link["giver_id"])
    if giver in opening and link["account_id"] in last:
        return last[link["account_id"]] + before
    return key(giver)


def _is_cask(one: Any) -> bool:
    return one.account.vessel is not None and one.account.vessel.kind == "cask"


def _casks(month: int, accounts: set[int]) -> dict[int, int]:
    """A cask more for each of the first month's, by account."""
    from distillery.plant.models import Kind, Stage, Vessel

    keys = sorted(accounts)
    vessels = Vessel.objects.bulk_create(
        Vessel(code=f"Y{month:03}/{place:04}", name=f"Y{month:03}/{place:04}", kind=Kind.CASK, stage=Stage.MATURING)
        for place in range(len(keys))
    )
    return {old: new.pk for old, new in zip(keys, cask_accounts(vessels), strict=True)}


def measure(refs: tuple[str, ...]) -> None:
    """Prints what each place costs, the walk and the whole."""
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    from batches.models import Link, Record
    from batches.pages.recalling.found import found_by
    from batches.pages.tracing.drawn import flow_of
    from batches.tracing import reached
    from batches.tracing.trace import follow_trace, refer
    from tests.batches.tracing.plain_walk import plain_back, plain_forward

    # Bulk rows have no movements by which the accounts of few records are found, so what all hold is read each time.
    reached.FEW = 0
    print(f"{Record.objects.count():,} records, {Link.objects.count():,} links")
    for ref in refs:
        with CaptureQueriesContext(connection) as asked:
            found = follow_trace(refer(ref))
        walked, found = _took(lambda ref=ref: follow_trace(refer(ref)))
        drawn, _ = _took(lambda found=found: flow_of(found, (), "?"))
        listed, _ = _took(lambda found=found: found_by(found))
        read, plain = _took(lambda ref=ref: (plain_back(ref), plain_forward(ref)))
        same = [_told(found.back), _told(found.forward)] == [_told(plain[0]), _told(plain[1])]
        print(
            f"{ref:10} {len(found.back):6,} behind, {len(found.forward):6,} ahead: walk {walked:.2f} s, drawn "
            f"{drawn:.2f} s, recall {listed:.2f} s, {len(asked):2} questions; all links read {read:.2f} s, "
            f"{read / walked:.1f} times; {'the same' if same else 'NOT THE SAME'}"
        )


def _told(traced: list[Any]) -> list[Any]:
    return [(one.record, one.kind, one.pure_ul, one.share, one.of_all) for one in traced]


def _took(work: Callable[[], Any]) -> tuple[float, Any]:
    best, found = 1e9, None
    for _ in range(3):
        began = time.process_time()
        found = work()
        best = min(best, time.process_time() - began)
    return best, found


def main() -> None:
    years = int(sys.argv[1]) if len(sys.argv) > 1 else 10
    with TemporaryDirectory() as scratch:
        databases = Databases(Path(scratch))
        try:
            url = databases.new()
            done = run(url, "demo", "--no-serve")
            if done.returncode:
                raise SystemExit(done.stderr)
            os.environ["DATABASE_URL"] = url
            os.environ.setdefault("DJANGO_SETTINGS_MODULE", "distillery.settings")
            import django

            django.setup()
            began = time.perf_counter()
            repeat(12 * years)
            print(f"{years} years made in {time.perf_counter() - began:.0f} s")
            last = 12 * years - 1
            measure(("M001", "BO0001", f"BO0001/{last}", f"SR0010/{last // 2}", "FR", "SV", "2027/0001"))
        finally:
            databases.close()


if __name__ == "__main__":
    main()
