"""Writers at several PCs do not wait for one another's comparisons: while one process makes a comparison, another
writes, is acknowledged, compares for itself, and ends.

Run as a program this file is one of the writers. The one that is held up says so, and waits for a line before it goes
on; so nothing here rests on who is quicker.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ledger.comparing.compare import Comparison
    from ledger.comparing.remembered import Remembered

LONGEST_S = 120
ROOT = Path(__file__).resolve().parents[2]
COMPARING, ACKNOWLEDGED, COMPARED = "comparing", "acknowledged", "compared"


def _prepare() -> None:
    from ledger.posting.post import post
    from tests.ledger import plant
    from tests.people import somebody

    person = somebody("ishbel")
    for code in ("P", "Q"):
        post(plant.opening(plant.vessel(code), 100), person=person)


def _write(number: str, *, held_up: bool) -> None:
    from distillery.people.models import Person
    from distillery.plant.models import Vessel
    from ledger.comparing import month
    from ledger.enquiries import following
    from ledger.kept import keeping
    from ledger.models import Movement
    from ledger.posting.accounts import vessel_account
    from ledger.posting.post import post
    from ledger.posting.turns import turn
    from tests.ledger import plant

    person = Person.objects.get(username="ishbel")
    giver, taker = (vessel_account(vessel) for vessel in Vessel.objects.filter(code__in="PQ").order_by("code"))

    def compare_month(period: str, known: Remembered) -> Comparison:
        print(COMPARING, flush=True)
        if held_up:
            sys.stdin.readline()
        return month.compare_month(period, known=known)

    keeping.compare_month = compare_month
    with turn():
        newest = Movement.objects.order_by("-pk").values_list("pk", flat=True)[0]
        post(plant.draft("transfer", number, 1, plant.Moved(giver, taker, plant.quantity(1))), person=person)
        following.to_be_compared(newest)
    print(ACKNOWLEDGED, flush=True)
    following.follow()
    print(COMPARED, flush=True)


def _look() -> None:
    from ledger.kept import keeping
    from ledger.kept.models import Uncompared
    from ledger.models import Movement

    print("transfers", Movement.objects.filter(operation="transfer").count())
    print("uncompared", Uncompared.objects.count())
    for period in Movement.objects.order_by().values_list("period", flat=True).distinct():
        kept = keeping.findings(period)
        keeping.let_go(period)
        print("as made from nothing", kept == keeping.findings(period))


def _begun(url: str, *what: str) -> subprocess.Popen[str]:
    from tests.running_site import SECRET_KEY

    return subprocess.Popen(
        [sys.executable, __file__, *what],
        env={**os.environ, "DATABASE_URL": url, "SECRET_KEY": SECRET_KEY, "PYTHONPATH": str(ROOT)},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def _done(url: str, *what: str) -> list[str]:
    process = _begun(url, *what)
    try:
        out, error = process.communicate(timeout=LONGEST_S)
    finally:
        if process.poll() is None:
            process.kill()
            process.wait()
    assert process.returncode == 0, error
    return out.splitlines()


def test_a_writer_waits_for_nobody_elses_comparison(migrated_database: str) -> None:
    _done(migrated_database, "prepare")
    slow = _begun(migrated_database, "held up", "T-1")
    try:
        assert slow.stdout is not None
        assert [slow.stdout.readline().strip() for _ in range(2)] == [ACKNOWLEDGED, COMPARING]
        # The first is in the middle of its comparison until it is told to go on.
        assert _done(migrated_database, "write", "T-2") == [ACKNOWLEDGED, COMPARING, COMPARED]
        assert slow.poll() is None
        out, error = slow.communicate("\n" * 9, timeout=LONGEST_S)
        assert slow.returncode == 0, error
        assert out.splitlines()[-1] == COMPARED
    finally:
        if slow.poll() is None:
            slow.kill()
            slow.wait()
    said = _done(migrated_database, "look")
    assert said[:2] == ["transfers 2", "uncompared 0"]
    assert said[2:]
    assert set(said[2:]) == {"as made from nothing True"}


if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "distillery.settings")
    import django

    django.setup()
    if sys.argv[1] in ("prepare", "look"):
        {"prepare": _prepare, "look": _look}[sys.argv[1]]()
    else:
        _write(sys.argv[2], held_up=sys.argv[1] == "held up")
