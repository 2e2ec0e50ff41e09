"""Copies are taken while people write, and each is put back into a new place: the books there are those of a moment.

What is put back proves, has every record that was acknowledged before its copy was begun, the seals of the site itself
up to its last movement, and in each account what the site's own legs come to up to there, to the microlitre.
Run: `python -m tests.faults.copying --copies 20`, on the engine that DATABASE_URL names; SQLite if none. Bounded by its
copies and, where `--minutes` says so, by time; talks to 127.0.0.1 only.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
import tempfile
import time
from collections.abc import Collection
from pathlib import Path
from typing import Any

from tests.faults import looking
from tests.faults.crew import Crew, muster, send_home
from tests.faults.scratch import kill, scratch_site, start
from tests.running_site import Databases, run_alone

LONGEST_UNTIL_SAVED_S = 120
# What books say, as one line: records and seals of their movements in order, and what each account holds.
BOOKS = """
import json
from ledger.models import Balance, Movement
said = Movement.objects.order_by("pk").values_list("record_number", "seal")
held = dict(Balance.objects.exclude(balance_ul=0).values_list("account__code", "balance_ul"))
print(json.dumps([list(said), held]))
"""


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--copies", type=int, default=20)
    parser.add_argument("--clients", type=int, default=8)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--minutes", type=float, default=math.inf, help="stop then, and say how far it went")
    options = parser.parse_args()
    crew, wrong, lengths = Crew(), [], []
    until = time.monotonic() + options.minutes * 60
    with scratch_site() as url, tempfile.TemporaryDirectory() as name:
        databases = Databases(Path(name), "copied")
        members = muster(crew, options.clients, options.seed)
        process, address = start(url)
        try:
            crew.served_at(address)
            for number in range(options.copies):
                if time.monotonic() > until:
                    break
                crew.saved.clear()
                crew.saved.wait(LONGEST_UNTIL_SAVED_S)
                known = list(crew.acknowledged)
                copy, place = Path(name) / f"{number}.copy", databases.new()
                for at, *command in ((url, "backup", copy), (place, "restore", copy)):
                    done = run_alone(at, *command)
                    if done.returncode:
                        wrong.append(f"{command[0]} of copy {number}: {done.stderr.strip()}")
                if wrong:
                    break
                records, held = _books(place)
                lengths.append(len(records))
                wrong += _apart(records, held, known)
            send_home(crew, members)
        finally:
            kill(process)
            databases.close()
        wrong += [*crew.faults, *looking.proven(), *looking.nothing_else(crew.acknowledged, crew.corrected)]
    print(f"{len(lengths)} copies put back, of {lengths} movements, while {len(crew.acknowledged)} were acknowledged.")
    for sentence in wrong:
        print("WRONG:", sentence)
    return 1 if wrong or len(lengths) < options.copies or not crew.acknowledged else 0


def _books(url: str) -> tuple[list[list[str]], dict[str, int]]:
    said = run_alone(url, "shell", "--verbosity=0", "--no-imports", "-c", BOOKS)
    if said.returncode:
        raise AssertionError(said.stderr)
    records, held = json.loads(said.stdout.splitlines()[-1])
    return records, held


def _apart(records: list[list[str]], held: dict[str, int], known: Collection[str]) -> list[str]:
    """What the books put back say otherwise than the site's own, up to their last movement."""
    from django.db.models import Sum

    from ledger.models import Leg, Movement

    there = {record for record, _ in records}
    wrong = [f"{record} was acknowledged and is not in the copy" for record in known if record not in there]
    own: list[Any] = list(Movement.objects.order_by("pk").values_list("record_number", "seal")[: len(records)])
    if [list(one) for one in own] != records:
        wrong.append("the seals of the copy are not those of the site")
    legs = Leg.objects.filter(movement_id__lte=len(records)).values_list("account__code")
    comes_to = {code: pure for code, pure in legs.annotate(pure=Sum("pure_ul")).order_by() if pure}
    if comes_to != held:
        wrong.append(f"accounts hold {held}, and the site's legs come to {comes_to}")
    return wrong


if __name__ == "__main__":
    sys.exit(main())
