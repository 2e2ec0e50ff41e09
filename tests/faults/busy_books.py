"""Somebody holds the books for longer than anybody is made to wait; the sheet says so and is saved afterwards, once.

Run: `python -m tests.faults.busy_books`, on the engine that DATABASE_URL names; SQLite if none. The waits are made
short by the address of the database. Talks to 127.0.0.1 only.
"""

from __future__ import annotations

import sqlite3
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager

from tests.faults import looking, small_plant
from tests.faults.crew import Crew, Member
from tests.faults.scratch import kill, scratch_site, start
from tests.running_site import sqlite_file

SHORT_WAITS = {"sqlite": "?timeout=1", "postgres": "?options=-c%20lock_timeout%3D300ms"}


@contextmanager
def held(url: str) -> Iterator[None]:
    """The books in the hands of another program, up to the end of the block."""
    if url.startswith("sqlite"):
        with closing(sqlite3.connect(sqlite_file(url), isolation_level=None)) as other:
            other.execute("BEGIN IMMEDIATE")
            yield
            other.execute("ROLLBACK")
        return
    import psycopg

    with psycopg.connect(url) as server:
        server.execute("SELECT * FROM ledger_head FOR UPDATE")
        yield
        server.rollback()


def main() -> int:
    crew = Crew()
    wrong: list[str] = []
    path = "/records/transfer/new/"
    with scratch_site() as url:
        process, address = start(url + SHORT_WAITS[url.partition(":")[0].removesuffix("ql")])
        try:
            crew.served_at(address)
            one = Member(crew, 1)
            one.sign_on()
            giver, taker = small_plant.TANKS[:2]
            sheet = small_plant.transfer(giver, taker, crew.dips, 10, 1)
            body = {**one.form(path), **sheet}
            with held(url):
                status, page, _ = one.ask("POST", path, body)
            if status != 200 or "The books are busy; nothing was saved; press Save again." not in page:
                wrong.append(f"busy books gave {status}")
            wrong += [f"{name} is not in its box any more" for name, text in sheet.items() if f'"{text}"' not in page]
            number = one.send(path, {**sheet, **one.hidden(page)})
            crew.keep(number, sheet)
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
    for sentence in wrong:
        print("WRONG:", sentence)
    print("The books were busy, and then they were not.")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
