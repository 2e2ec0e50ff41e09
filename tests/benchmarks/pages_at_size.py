"""What each kind of page costs on two sites, a small and a large one, and how many times more on the large.

Run from the root: `python -m tests.benchmarks.pages_at_size SMALL LARGE`, each a file of SQLite or a URL as
DATABASE_URL has it; on PostgreSQL with DATABASE_URL for the server. `demo --month --no-serve` makes a small one,
`large_site` a large one. Both are copied first, since signing on writes. A manager asks for each page by Django's
test client, the sites in turn; printed are milliseconds of processor of the program (p50 and p95 of 20 after those that
warm up) and the queries of one page. On PostgreSQL the server's own work is not in the milliseconds. The pages are
those of the newest month in which a spirit run was finished, with its newest spirit run.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable
from math import ceil
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from typing import Any

from tests.running_site import SECRET_KEY, Databases

# Each site is asked twice, in turn with the other, so that what else the computer does falls on both.
ROUNDS = 2
TIMES = 10
OK = 200


def pages() -> dict[str, str]:
    """The address of a page of each kind; those that this site has none of are left out."""
    from django.urls import reverse

    from batches.models import Record, State
    from batches.pages.records.shown import record_address
    from batches.records.versions import newest, typed_of
    from batches.stores.models import Lot
    from distillery.plant.models import Cask
    from ledger.enquiries.looking import try_month
    from ledger.enquiries.models import Enquiry
    from ledger.models import Head
    from ledger.periods import period_of

    runs = Record.objects.filter(kind="spirit_run", state=State.COMPLETE)
    run = runs.order_by("happened_from", "pk").last()
    if run is None:
        raise SystemExit("There is no spirit run in these books.")
    period = period_of(run.happened_from)
    receiver = typed_of(newest(run))[0]["spirit_receiver"]
    cask = Cask.objects.filter(filled_at__isnull=False).select_related("vessel").order_by("filled_at", "pk").last()
    enquiry = Enquiry.objects.order_by("pk").last()
    found = try_month(period).findings
    named = {"kind": "spirit_run", "number": run.number}
    newest_movement = Head.objects.get(id=1).last_number
    lot = Lot.objects.exclude(first_at=None).order_by("first_at", "pk").last()
    span = Record.objects.filter(kind="distillation_period").order_by("pk").last()
    warehouse = Cask.objects.exclude(warehouse="").order_by("pk").values_list("warehouse", flat=True).first()
    addresses = {
        "entry form": reverse("record_new", kwargs={"kind": "spirit_run"}),
        "fermentation form": reverse("record_new", kwargs={"kind": "fermentation"}),
        "third still run form": reverse("record_new", kwargs={"kind": "third_still_run"}),
        "opening stock form": reverse("record_new", kwargs={"kind": "opening_stock"}),
        "correction form": reverse("record_correct", kwargs=named),
        "record": record_address(run),
        "list of records": reverse("record_list", kwargs={"kind": "spirit_run"}),
        "find": f"{reverse('find')}?q={run.number[:2]}0",
        "vessel account": reverse("vessel_account", kwargs={"code": receiver}),
        "month": reverse("month", kwargs={"period": period}),
        "findings": f"{reverse('findings')}?month={period}",
        "finding": reverse("finding", kwargs={"period": period, "record": found[0].record}) if found else "",
        "enquiry": reverse("enquiry", kwargs={"number": enquiry.number}) if enquiry is not None else "",
        "enquiries": reverse("enquiries"),
        "losses": reverse("losses"),
        "accounts": reverse("accounts"),
        "movements": reverse("movements"),
        "movement": reverse("movement", kwargs={"number": newest_movement}),
        "warehouse": reverse("warehouse"),
        "warehouse, filtered": f"{reverse('warehouse')}?warehouse={warehouse}",
        "casks expected": reverse("casks_expected"),
        "cask": reverse("cask", kwargs={"code": cask.vessel.code}) if cask is not None else "",
        "shift": reverse("shift"),
        "records": reverse("records"),
        "bottling": reverse("bottling"),
        "plant": reverse("plant"),
        "washbacks": reverse("washbacks"),
        "stores": reverse("stores"),
        "lot": reverse("lot", kwargs={"kind": lot.kind, "code": lot.code}) if lot is not None else "",
        "distillation periods": reverse("distillation_periods"),
        "distillation period": reverse("distillation_period", kwargs={"number": span.number}) if span else "",
        "handovers": reverse("handovers"),
        "instruments": reverse("instruments"),
        "site": reverse("site"),
        "trail": reverse("trail"),
        "trail entries": reverse("trail_entries"),
        "seals": reverse("seals"),
        "books": reverse("books"),
        "record PDF": reverse("record_pdf", kwargs=named),
        "month PDF": reverse("month_pdf", kwargs={"period": period}),
    }
    return {kind: address for kind, address in addresses.items() if address}


def measure() -> dict[str, dict[str, Any]]:
    """Milliseconds of processor of each asking, and the queries of one, by kind of page."""
    from django.db import connection
    from django.test import Client
    from django.test.utils import CaptureQueriesContext

    from distillery.people.models import Person
    from distillery.people.roles import MANAGER

    client = Client(SERVER_NAME="127.0.0.1")
    client.force_login(Person.objects.filter(groups__name=MANAGER).order_by("pk")[0])
    found: dict[str, dict[str, Any]] = {}
    for kind, address in pages().items():
        with CaptureQueriesContext(connection) as asked:
            _ask(client, address)
        queries = len(asked)
        taken = [_processor_ms(lambda address=address: _ask(client, address)) for _ in range(TIMES)]  # type: ignore[misc]
        found[kind] = {"ms": taken, "queries": queries}
    return found


def _ask(client: Any, address: str) -> None:
    response = client.get(address)
    if response.status_code != OK:
        raise SystemExit(f"{address} answers {response.status_code}.")
    if response.streaming:
        b"".join(response.streaming_content)


def _processor_ms(work: Callable[[], None]) -> float:
    began = time.process_time()
    work()
    return 1000 * (time.process_time() - began)


def main(small: str, large: str) -> None:
    with TemporaryDirectory() as scratch:
        databases = Databases(Path(scratch), "pages")
        try:
            copies = [databases.copy_of(_url(one)) for one in (small, large)]
            rounds = [[_measured(copy) for copy in copies] for _ in range(ROUNDS)]
        finally:
            databases.close()
    sites = [_together(list(of_one)) for of_one in zip(*rounds, strict=True)]
    print("| page | small: p50 | p95 | queries | large: p50 | p95 | queries | ratio of p50 |")
    print("| --- | --- | --- | --- | --- | --- | --- | --- |")
    for kind in dict.fromkeys([*sites[0], *sites[1]]):
        cells = [_cells(site.get(kind)) for site in sites]
        both = all(kind in site for site in sites)
        ratio = f"{median(sites[1][kind]['ms']) / median(sites[0][kind]['ms']):.2f}" if both else "-"
        print(f"| {kind} | {' | '.join([*cells[0], *cells[1]])} | {ratio} |")


def _url(database: str) -> str:
    return database if "://" in database else f"sqlite:///{Path(database).resolve()}"


def _measured(url: str) -> dict[str, dict[str, Any]]:
    more = {"DATABASE_URL": url, "DJANGO_SETTINGS_MODULE": "distillery.settings", "SECRET_KEY": SECRET_KEY}
    command = [sys.executable, "-m", "tests.benchmarks.pages_at_size", "--one"]
    done = subprocess.run(command, env={**os.environ, **more}, capture_output=True, text=True, check=False)
    if done.returncode:
        sys.exit(done.stderr)
    result: dict[str, dict[str, Any]] = json.loads(done.stdout)
    return result


def _together(rounds: list[dict[str, dict[str, Any]]]) -> dict[str, dict[str, Any]]:
    """The rounds of one site as one: all milliseconds of a page, and the most queries."""
    return {
        kind: {
            "ms": [one for each in rounds for one in each[kind]["ms"]],
            "queries": max(each[kind]["queries"] for each in rounds),
        }
        for kind in rounds[0]
    }


def _cells(page: dict[str, Any] | None) -> list[str]:
    if page is None:
        return ["-", "-", "-"]
    taken = sorted(page["ms"])
    return [f"{median(taken):.0f}", f"{taken[ceil(0.95 * len(taken)) - 1]:.0f}", str(page["queries"])]


if __name__ == "__main__":
    if sys.argv[1:] == ["--one"]:
        import django

        django.setup()
        print(json.dumps(measure()))
    elif len(sys.argv) == 3:
        main(*sys.argv[1:])
    else:
        sys.exit("Say which two databases: python -m tests.benchmarks.pages_at_size SMALL LARGE")
