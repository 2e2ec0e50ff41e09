"""The computer's clock is put back by an hour and by a year, and ahead by a year, while the site is served.

Each time `/health/` names the step, and whoever signs on afterwards can write; what lies a year ahead of the clock or a
year behind it is asked about first, with the clock's time beside it, and nothing is written unless somebody says so.
Records keep the moment that was typed, numbers go on as they were written whatever the clock says, and the books prove.
Run: `python -m tests.faults.clock_set`, on the engine that DATABASE_URL names; SQLite if none. Only the server's own
idea of the time is moved. Bounded by its steps; talks to 127.0.0.1 only.
"""

from __future__ import annotations

import http.client
import json
import os
import sys
import tempfile
import time
from datetime import datetime
from pathlib import Path
from urllib.parse import urlsplit

from tests.faults import looking, small_plant
from tests.faults.crew import Crew, Member
from tests.faults.scratch import scratch_site
from tests.running_site import serving_process

HOUR_S, YEAR_S = 3600, 365 * 86_400
AHEAD, LONG_AGO = "ahead of the clock", "days ago. Was it then?"
# By how many seconds the clock is away from real time, one after another, and what a sheet of March 2027 is asked then.
STANDS = ((-HOUR_S, ""), (0, ""), (-YEAR_S, AHEAD), (0, ""), (YEAR_S, LONG_AGO), (0, ""))
# The server looks every ten seconds; a busy computer is slow to answer besides.
LONGEST_UNTIL_NAMED_S = 60
NEW = "/records/transfer/new/"


def main() -> int:
    crew, wrong = Crew(), []
    with scratch_site() as url, tempfile.TemporaryDirectory() as folder:
        stands = Path(folder) / "away"
        stands.write_text("0", encoding="ascii")
        command = [sys.executable, "-W", "ignore", "-m", "tests.faults.clock_set", str(stands)]
        with serving_process(url, command=command) as (_, address):
            crew.served_at(address)
            before = Member(crew, 0)
            before.sign_on()
            wrong += _written(crew, before, 0, "")
            was = 0
            for number, (away, asked) in enumerate(STANDS, start=1):
                stands.write_text(str(away), encoding="ascii")
                wrong += _named(address, away - was, number)
                # Whoever was signed on goes on or signs on anew; no page fails.
                status, _, _ = before.ask("GET", "/")
                if status not in (200, 302):
                    wrong.append(f"step {number}: the first page gave {status}")
                after = Member(crew, number)
                after.sign_on()
                wrong += _written(crew, after, number, asked)
                was = away
        wrong += [
            *crew.faults,
            *looking.proven(),
            *looking.nothing_else(crew.acknowledged, crew.corrected),
            *looking.held_where_it_must_be(crew.dips, crew.acknowledged),
            *_as_typed(crew),
        ]
    print(f"{len(STANDS)} steps of the clock, {len(crew.acknowledged)} movements acknowledged.")
    for sentence in wrong:
        print("WRONG:", sentence)
    return 1 if wrong or not crew.acknowledged else 0


def _named(address: str, by_s: int, number: int) -> list[str]:
    """Waits until the server says by how much its clock was set; says so where it does not."""
    parts, said = urlsplit(address), None
    until = time.monotonic() + LONGEST_UNTIL_NAMED_S
    while time.monotonic() < until:
        connection = http.client.HTTPConnection(parts.hostname or "", parts.port, timeout=LONGEST_UNTIL_NAMED_S)
        try:
            connection.request("GET", "/health/")
            said = json.loads(connection.getresponse().read())["clock"]["set_by_seconds"]
        finally:
            connection.close()
        if abs(said - by_s) <= 1:
            return []
        time.sleep(0.5)
    return [f"step {number}: /health/ says {said} s, and the clock was set by {by_s} s"]


def _written(crew: Crew, member: Member, number: int, asked: str) -> list[str]:
    """A transfer of March 2027: kept, or left alone where the page has a question that says so."""
    giver, taker = small_plant.TANKS[:2]
    sheet = small_plant.transfer(giver, taker, crew.dips, 10, number)
    body = {**member.form(NEW), **sheet}
    if not asked:
        kept = member.send(NEW, body)
        if kept:
            crew.keep(kept, sheet)
            crew.dips[giver] -= 10
            crew.dips[taker] += 10
        return []
    status, page, where = member.ask("POST", NEW, body)
    if status == 200 and asked in page:
        return []
    return [f"step {number}: a sheet a year away gave {status} {where} and was not asked '{asked}'"]


def _as_typed(crew: Crew) -> list[str]:
    """Moments are those that were typed, and numbers go up in the order of writing."""
    from django.utils import timezone

    from ledger.models import Movement

    posted = list(
        Movement.objects.filter(record_number__in=crew.acknowledged)
        .order_by("pk")
        .values_list("record_number", "happened_at")
    )
    wrong = []
    if [number for number, _ in posted] != list(crew.acknowledged):
        wrong.append(f"movements stand as {posted}, and were written as {list(crew.acknowledged)}")
    for number, moment in posted:
        typed = crew.acknowledged[number]["at"]
        if timezone.make_naive(moment) != datetime.fromisoformat(typed):
            wrong.append(f"{number} happened at {typed} as typed, and stands at {moment}")
    return wrong


def serve() -> None:
    """A command of the site on a computer whose clock stands away by the seconds in a file, given first."""
    from tests.clock_moved import move

    file, real = Path(sys.argv[1]), time.time

    def wall() -> float:
        return real() + float(file.read_text(encoding="ascii") or 0)

    # Before anything is imported that keeps the clock it found.
    time.time = wall
    move(file)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "distillery.settings")
    from django.core.management import execute_from_command_line

    execute_from_command_line(["manage.py", *sys.argv[2:]])


if __name__ == "__main__":
    if len(sys.argv) > 1:
        serve()
    else:
        sys.exit(main())
