"""Four writers at once, each in a process of its own as four PCs would be: nothing lost, nothing twice, no error.

Run as a program with a number, this file is one of the writers; it prints the number of every movement that was
acknowledged to it. Bounded: 25 movements each.
"""

from __future__ import annotations

import os
import random
import subprocess
import sys
from pathlib import Path

WRITERS = 4
MOVEMENTS = 25
VESSELS = ("P", "Q", "R", "S", "T", "U")
LONGEST_S = 120
ROOT = Path(__file__).resolve().parents[2]


def _prepare() -> None:
    from ledger.posting.post import post
    from tests.ledger import plant
    from tests.people import somebody

    person = somebody("ishbel")
    for code in VESSELS:
        post(plant.opening(plant.vessel(code), 100), person=person)


def _write(writer: int) -> None:
    from distillery.people.models import Person
    from distillery.plant.models import Vessel
    from ledger.posting.accounts import vessel_account
    from ledger.posting.post import post
    from tests.ledger import plant

    dice = random.Random(writer)
    person = Person.objects.get(username="ishbel")
    accounts = [vessel_account(vessel) for vessel in Vessel.objects.filter(code__in=VESSELS).order_by("code")]
    for turn in range(MOVEMENTS):
        giver, taker = dice.sample(accounts, 2)
        amount = plant.quantity(dice.randint(1, 30) / 10)
        number = f"{writer}-{turn}"
        movement = post(
            plant.draft("transfer", number, dice.randint(0, 50), plant.Moved(giver, taker, amount)), person=person
        )
        print(f"{movement.pk} {number}", flush=True)


def _look() -> None:
    from django.db.models import Sum

    from ledger.models import Balance, Movement
    from ledger.proof.proving import prove

    for broken in prove().broken:
        print("broken", broken)
    held = Balance.objects.filter(account__kind="vessel").aggregate(pure=Sum("balance_ul"), mass=Sum("mass_g"))
    print("held", held["pure"], held["mass"])
    for number, record in Movement.objects.filter(operation="transfer").values_list("pk", "record_number"):
        print("movement", number, record)


def _environment(url: str) -> dict[str, str]:
    from tests.running_site import SECRET_KEY

    return {**os.environ, "DATABASE_URL": url, "SECRET_KEY": SECRET_KEY, "PYTHONPATH": str(ROOT)}


def _do(url: str, *what: str) -> str:
    done = subprocess.run(
        [sys.executable, __file__, *what],
        env=_environment(url),
        capture_output=True,
        text=True,
        timeout=LONGEST_S,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_four_writers_at_once_lose_nothing_and_write_nothing_twice(migrated_database: str) -> None:
    _do(migrated_database, "prepare")
    writers = [
        subprocess.Popen(
            [sys.executable, __file__, str(writer)],
            env=_environment(migrated_database),
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        for writer in range(WRITERS)
    ]
    acknowledged: list[str] = []
    try:
        for process in writers:
            out, error = process.communicate(timeout=LONGEST_S)
            assert process.returncode == 0, error
            acknowledged += out.splitlines()
    finally:
        for process in writers:
            if process.poll() is None:
                process.kill()
                process.wait()
    said = _do(migrated_database, "look").splitlines()
    assert len(acknowledged) == WRITERS * MOVEMENTS
    written = [line.removeprefix("movement ") for line in said if line.startswith("movement")]
    assert sorted(written) == sorted(acknowledged)
    assert "held 600000000 960000" in said
    assert [line for line in said if line.startswith("broken")] == []


if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "distillery.settings")
    import django

    django.setup()
    {"prepare": _prepare, "look": _look}.get(sys.argv[1], lambda: _write(int(sys.argv[1])))()
