"""How often the truth lies within two standard uncertainties of a gauge: of a month whose truth is known.

Run from the root: `python tests/benchmarks/coverage.py FOLDER [FOLDER ...]`, each a month's folder with truth.json (the
simulator writes such: `python -m tests.simulator --seed 7 --folder X`). Each month is loaded into a scratch database;
the gauges are those of the stock take against the true contents, and those around each run, transfer and third-still
run (after less before) against the true amount. Prints the share within two standard uncertainties, aim 95 %.
"""

from __future__ import annotations

import json
import os
import sys
import tempfile
from collections.abc import Iterator
from math import sqrt
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]

# An operation in the truth, the prefix of its records, the gauges that bound one amount, the amount's name there.
AMOUNTS = (
    ("wash_run", "WR", ("receiver_before", "receiver_after"), "low_wines"),
    ("spirit_run", "SR", ("spirit_before", "spirit_after"), "cut"),
    ("spirit_run", "SR", ("feints_receiver_before", "feints_receiver_after"), "feints"),
    ("third_run", "TS", ("product_before", "product_after"), "heart"),
    ("third_run", "TS", ("heads_tails_before", "heads_tails_after"), "heads_tails"),
)


def errors(truth: dict[str, list[dict[str, float]]]) -> Iterator[float]:
    """(gauged − true) / standard uncertainty for every amount whose truth is known and whose readings are sound."""
    from ledger.models import Gauge
    from tests.ledger.shared_uncertainty import kept_gauge, sum_uncertainty_ul

    slipped = {fault.get("record") for fault in truth["planted"]}
    for vessel, holds in truth["closing"].items():  # type: ignore[attr-defined]
        gauge = Gauge.objects.filter(account__code=f"vessel:{vessel}", movement__record_kind="stock_take").first()
        if gauge is not None and gauge.uncertainty_ul:
            yield (gauge.pure_ul - holds["lpa"] * 1e6) / gauge.uncertainty_ul
    for operation in truth["operations"]:
        for name, prefix, pair, amount in AMOUNTS:
            record = operation.get("record") or f"{prefix}{int(operation['n']):04d}"
            if operation["operation"] != name or record in slipped:
                continue
            gauges = {one.name: one for one in Gauge.objects.filter(movement__record_number=record, name__in=pair)}
            if len(gauges) == 2:
                before, after = (gauges[one] for one in pair)
                spread = sum_uncertainty_ul(
                    [(1, kept_gauge(after.chain, record=record)), (-1, kept_gauge(before.chain, record=record))]
                )
                yield (after.pure_ul - before.pure_ul - operation[amount] * 1e6) / spread


def main(folders: list[str]) -> None:
    sys.path.insert(0, str(ROOT))
    all_errors: list[float] = []
    for folder in folders:
        with tempfile.TemporaryDirectory() as scratch:
            os.environ["DATABASE_URL"] = f"sqlite:///{scratch}/month.sqlite3"
            os.environ["DJANGO_SETTINGS_MODULE"] = "distillery.settings"
            import django
            from django.core.management import call_command
            from django.db import connection

            django.setup()
            connection.close()
            connection.settings_dict["NAME"] = f"{scratch}/month.sqlite3"
            call_command("migrate", verbosity=0)
            call_command("load_month", folder, verbosity=0)
            found = list(errors(json.loads((Path(folder) / "truth.json").read_text(encoding="utf-8"))))
            connection.close()
        all_errors += found
        print(f"{folder}: {_within(found)}")
    print(f"all: {_within(all_errors)}")


def _within(found: list[float]) -> str:
    inside = sum(abs(one) <= 2 for one in found)
    spread = sqrt(sum(one * one for one in found) / len(found)) if found else 0.0
    share = inside / max(1, len(found))
    return f"{inside} of {len(found)} within two standard uncertainties ({share:.1%}), spread {spread:.2f}"


if __name__ == "__main__":
    main(sys.argv[1:])
