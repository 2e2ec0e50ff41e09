"""A process is killed (signal 9) while it compares what it has just acknowledged, and another takes up what it left.

After every kill the entry acknowledged last is there, sealed as it was; now and then, and at the end, everything is
caught up, and the findings and the keys of enquiries are those of a comparison made from nothing. Run:
`python -m tests.faults.killing_comparison --kills 200`, on the engine that DATABASE_URL names; SQLite if none. Bounded
by its kills; it talks to nobody.
"""

from __future__ import annotations

import argparse
import random
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.faults.scratch import kill, scratch_database, wait_until_nobody_writes
from tests.running_site import ROOT, environment

SEED, PERIOD = 5003, "2027-03"
PEOPLE = ("kill-staff", "kill-manager")
LONGEST_WAIT_S = 0.8
CAUGHT_UP_EVERY = 20


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    dice = random.Random(options.seed)
    wrong: list[str] = []
    killed = left = 0
    with scratch_database() as url, tempfile.TemporaryDirectory() as folder:
        _fill(Path(folder))
        from django.db import connection

        from ledger.kept.models import Uncompared

        while killed < options.kills and not wrong:
            number, seal = _write_until_killed(url, options.seed * 1000 + killed, dice.uniform(0, LONGEST_WAIT_S))
            wait_until_nobody_writes()
            killed += 1
            wrong += _is_there(number, seal)
            left += Uncompared.objects.exists()
            if killed % CAUGHT_UP_EVERY == 0:
                wrong += _caught_up()
            connection.close()
        wrong += _caught_up()
    print(f"{killed} kills, {left} of them before the comparison was written down.")
    for sentence in wrong:
        print("WRONG:", sentence)
    return 1 if wrong or killed < options.kills or not left else 0


def _fill(folder: Path) -> None:
    from django.core.management import call_command

    from batches.loading.load_folder import load_folder
    from distillery.people.roles import MANAGER, STAFF
    from tests.people import somebody
    from tests.simulator import simulate

    call_command("migrate", interactive=False, verbosity=0)
    simulate(SEED, folder, size="small", month=PERIOD)
    load_folder(folder)
    for name, role in zip(PEOPLE, (STAFF, MANAGER), strict=True):
        somebody(name, role)


def _write_until_killed(url: str, seed: int, wait_s: float) -> tuple[int, str]:
    """Number and seal of the last movement that a process acknowledged before it was killed."""
    process = subprocess.Popen(
        [sys.executable, "-m", "tests.faults.writing_on", str(seed), *PEOPLE],
        cwd=ROOT,
        env=environment(url, LOG_LEVEL="ERROR"),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        assert process.stdout is not None
        line = process.stdout.readline()
        time.sleep(wait_s)
    finally:
        process.kill()
    rest = [one for one in (line + process.stdout.read()).splitlines() if one.startswith("acknowledged ")]
    kill(process)
    if not rest:
        raise AssertionError("Nothing was acknowledged.")
    _, number, seal = rest[-1].split()
    return int(number), seal


def _is_there(number: int, seal: str) -> list[str]:
    from ledger.models import Movement

    there = Movement.objects.filter(pk=number, seal=seal).exists()
    return [] if there else [f"movement {number} was acknowledged and is not there as it was"]


def _caught_up() -> list[str]:
    """What is not as a comparison made from nothing would have it."""
    from ledger.comparing.month import compare_month
    from ledger.enquiries.following import catch_up
    from ledger.enquiries.raising import RAISED
    from ledger.enquiries.standing import State, by_key
    from ledger.kept.keeping import current
    from ledger.kept.models import Uncompared

    catch_up()
    wrong = [f"{one} is not compared" for one in Uncompared.objects.all()]
    anew = compare_month(PERIOD).findings
    if current(PERIOD).month.findings != anew:
        wrong.append("the kept findings are not those made from nothing")
    asked = {one.key for one in anew if one.kind in RAISED}
    known = by_key(asked)
    wrong += [f"{key} is found and not enquired into" for key in sorted(asked - known.keys())]
    gone = (State.PUT_RIGHT, State.GONE)
    wrong += [f"{key} is found and said to be gone" for key, one in sorted(known.items()) if one.state in gone]
    return wrong


if __name__ == "__main__":
    sys.exit(main())
