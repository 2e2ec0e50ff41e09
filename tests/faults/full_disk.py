"""The disk of the books is full while people write: said in words, nothing half kept, and saved once there is room.

The server's files may grow to a bound of the system's (RLIMIT_FSIZE), which refuses as a full disk does. A sheet is
refused with a page that says so, twice; pages are read meanwhile; with room again the same sheet is kept once.
Run: `python -m tests.faults.full_disk`. SQLite alone: a database on a server has that one's disk. Bounded by its
sheets; talks to 127.0.0.1 only.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys

from tests.faults import looking, small_plant
from tests.faults.crew import Crew, Member
from tests.faults.scratch import kill, scratch_site, start
from tests.running_site import ROOT, environment, sqlite_file

NEW = "/records/transfer/new/"
SAID = "The disk is full; nothing was saved."
# Beside the books, their file of changes grows to the same bound.
ROOM_BYTES = 64 * 1024
MOST_SHEETS = 400
STATUS = 507


def main() -> int:
    if os.environ.get("DATABASE_URL", "").startswith("postgres"):
        print("A database on a server has that one's disk: run this without DATABASE_URL.")
        return 1
    crew, wrong, refused = Crew(), [], 0
    with scratch_site() as url:
        from django.db import connection

        # All that was written until now stands in the file of the books itself.
        connection.close()
        process, address = _without_room(url, sqlite_file(url).stat().st_size + ROOM_BYTES)
        try:
            crew.served_at(address)
            one = Member(crew, 1)
            one.sign_on()
            for number in range(MOST_SHEETS):
                giver, taker = small_plant.TANKS[number % 2], small_plant.TANKS[1 - number % 2]
                sheet = small_plant.transfer(giver, taker, crew.dips, 10, number)
                body = {**one.form(NEW), **sheet}
                status, page, where = one.ask("POST", NEW, body)
                if status != 302:
                    break
                crew.keep(where.rstrip("/").rsplit("/", 1)[-1], sheet)
                crew.dips[giver] -= 10
                crew.dips[taker] += 10
            for _ in range(2):
                refused += 1
                if status != STATUS or SAID not in page:
                    wrong.append(f"a full disk gave {status}")
                wrong += [f"{text} is not given back" for text in sheet.values() if text not in page]
                shown, _, _ = one.ask("GET", "/books/")
                if shown != 200:
                    wrong.append(f"a page to read gave {shown} meanwhile")
                status, page, _ = one.ask("POST", NEW, body)
        finally:
            kill(process)
        wrong += [*looking.proven(), *looking.nothing_else(crew.acknowledged, crew.corrected)]
        process, address = start(url)
        try:
            crew.served_at(address)
            again = {one.send(NEW, body), one.send(NEW, body)}
            if len(again) != 1:
                wrong.append(f"sent twice with room again, it is kept as {again}")
            crew.keep(again.pop(), sheet)
            crew.dips[giver] -= 10
            crew.dips[taker] += 10
        finally:
            kill(process)
        wrong += [
            *crew.faults,
            *looking.proven(),
            *looking.nothing_else(crew.acknowledged, crew.corrected),
            *looking.held_where_it_must_be(crew.dips, crew.acknowledged),
        ]
    print(f"{len(crew.acknowledged)} movements acknowledged, {refused} times the disk was full.")
    for sentence in wrong:
        print("WRONG:", sentence)
    return 1 if wrong or not refused else 0


def _without_room(url: str, most_bytes: int) -> tuple[subprocess.Popen[str], str]:
    process = subprocess.Popen(
        [sys.executable, "-m", "tests.faults.light_server"],
        cwd=ROOT,
        env=environment(url, LOG_LEVEL="CRITICAL"),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        text=True,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (most_bytes, most_bytes)),
    )
    assert process.stdout is not None
    line = process.stdout.readline()
    assert line.startswith("Serving at "), line
    return process, line.split()[2].rstrip("/")


if __name__ == "__main__":
    sys.exit(main())
