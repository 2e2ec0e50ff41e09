"""Somebody at one PC guesses passwords by the page for signing on, whenever no wait stands; a colleague signs on there.

The server's clock is moved on by what it asks to wait, so that an hour passes in a minute. Fifty wrong passwords take
over an hour of that clock, each stands on record with the wait that followed, and the colleague signs on meanwhile at
the first try. Run: `python -m tests.faults.guessing --guesses 50`, on the engine that DATABASE_URL names; SQLite if
none. Bounded by its guesses; talks to 127.0.0.1 only.
"""

from __future__ import annotations

import argparse
import re
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.faults import small_plant
from tests.faults.crew import Crew, Member
from tests.faults.scratch import kill, scratch_site
from tests.running_site import ROOT, environment

COLLEAGUE = "linnet"
# Those who are there, and names that nobody has: whichever is free soonest is tried next.
NAMES = (small_plant.USERNAME, "nobody", "admin", "robin", "wren")
STEP_S = 30
LONGEST_S = 24 * 60 * 60
AN_HOUR_S = 60 * 60
WAIT = re.compile(r"Wait [^.<]+ before the next try")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--guesses", type=int, default=50)
    options = parser.parse_args()
    wrong: list[str] = []
    with scratch_site() as url, tempfile.TemporaryDirectory() as folder:
        from distillery.people.roles import STAFF
        from tests.people import somebody

        for name in (COLLEAGUE, "robin", "wren"):
            somebody(name, STAFF, password=small_plant.PASSWORD)
        clock = Path(folder) / "ahead"
        clock.write_text("0", encoding="ascii")
        with _serving_at(url, clock) as address:
            took_s, came_in = _guess(address, clock, options.guesses)
        wrong += _on_record(options.guesses)
    # The first ten at a place are nearly free, so that a few are through in minutes.
    if options.guesses >= 50 and took_s < AN_HOUR_S:
        wrong.append(f"{options.guesses} guesses took only {took_s / 60:.0f} min")
    if not came_in:
        wrong.append("the colleague was kept out")
    print(f"{options.guesses} wrong passwords from one PC took {took_s / 60:.0f} min of the server's clock.")
    for sentence in wrong:
        print("WRONG:", sentence)
    return 1 if wrong else 0


def _guess(address: str, clock: Path, guesses: int) -> tuple[int, bool]:
    """Seconds of the server's clock that so many looked-at guesses took; whether the colleague came in meanwhile."""
    ahead_s = made = 0
    came_in = True
    while made < guesses and ahead_s < LONGEST_S:
        for name in NAMES:
            answer = _try(address, name, f"a-guess-number-{made}")
            if not WAIT.search(answer):
                made += 1
            if made in (guesses // 2, guesses):
                came_in = came_in and _comes_in(address)
        ahead_s += STEP_S
        clock.write_text(str(ahead_s), encoding="ascii")
    return ahead_s, came_in


def _try(address: str, name: str, password: str) -> str:
    """What the page says to a guess."""
    one = _at(address)
    status, page, _ = one.ask("POST", "/sign-on/", one.form("/sign-on/") | {"username": name, "password": password})
    if status != 200:
        raise AssertionError(f"A guess was answered {status}.")
    return page


def _comes_in(address: str) -> bool:
    one = _at(address)
    sent = one.form("/sign-on/") | {"username": COLLEAGUE, "password": small_plant.PASSWORD}
    return one.ask("POST", "/sign-on/", sent)[0] == 302


def _at(address: str) -> Member:
    """A browser that was just opened, at the same PC as all others."""
    crew = Crew()
    crew.served_at(address)
    return Member(crew, 1)


def _on_record(guesses: int) -> list[str]:
    """Every guess that was looked at is a row, and the waits add up."""
    from distillery.pen.models import Try

    kept = Try.objects.filter(what=Try.What.TRIED, answer__isnull=True)
    wrong = [] if kept.count() >= guesses else [f"{kept.count()} of {guesses} guesses are on record"]
    return wrong if kept.filter(wait_s__gt=0).exists() else [*wrong, "no wait is on record"]


@contextmanager
def _serving_at(url: str, clock: Path) -> Iterator[str]:
    """The light server in a time that the file says."""
    process = subprocess.Popen(
        [sys.executable, "-c", _MOVED, str(clock)],
        cwd=ROOT,
        env=environment(url, LOG_LEVEL="ERROR"),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    try:
        line = process.stdout.readline()
        if not line.startswith("Serving at "):
            raise AssertionError("The server did not start.")
        yield line.split()[2].rstrip("/")
    finally:
        kill(process)


_MOVED = """
import sys
from pathlib import Path
from tests.clock_moved import move
from tests.faults.light_server import main
move(Path(sys.argv[1]))
main()
"""


if __name__ == "__main__":
    sys.exit(main())
