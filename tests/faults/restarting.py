"""PostgreSQL is restarted again and again while people write; the site's server stays and goes on by itself.

A cluster of its own in a folder of its own, at a free port of this computer. Fast restarts break off what is going on,
immediate ones end the server as a crash does. After each the books prove, and all that was acknowledged is there.
Run: `python -m tests.faults.restarting --times 20`. Bounded by its restarts and, where `--minutes` says so, by
time; talks to 127.0.0.1 only.
"""

from __future__ import annotations

import argparse
import math
import os
import random
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.faults import looking
from tests.faults.crew import Crew, muster, send_home
from tests.faults.scratch import kill, scratch_site, start

LONGEST_S = 120
LONGEST_UNTIL_SAVED_S = 60


class Cluster:
    """PostgreSQL's server in a folder."""

    def __init__(self, folder: Path, programs: Path) -> None:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self._data, self._programs = folder / "data", programs
        self._settings = (
            f"-p {self.port} -c listen_addresses=127.0.0.1 -c unix_socket_directories={folder} -c fsync=on -c jit=off"
        )
        self._log = folder / "log"
        self._do("initdb", "-D", str(self._data), "-U", "gaugebook", "--auth=trust", "--encoding=UTF8")

    def start(self) -> None:
        self._do("pg_ctl", "-D", str(self._data), "-w", "-l", str(self._log), "-o", self._settings, "start")

    def stop(self, mode: str) -> None:
        self._do("pg_ctl", "-D", str(self._data), "-w", "-m", mode, "stop")

    def _do(self, program: str, *given: str) -> None:
        # It does not run as root.
        who = ["runuser", "-u", "postgres", "--"] if os.geteuid() == 0 else []
        subprocess.run(
            [*who, str(self._programs / program), *given],
            cwd="/",
            check=True,
            timeout=LONGEST_S,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
        )


def programs() -> Path | None:
    """The folder of PostgreSQL's own programs; None where there is none."""
    there = shutil.which("initdb")
    found = [Path(there).parent] if there else sorted(Path("/usr/lib/postgresql").glob("*/bin"))
    return found[-1] if found else None


@contextmanager
def cluster() -> Iterator[Cluster]:
    """A cluster that serves, and is gone at the end."""
    folder_of_programs = programs()
    if folder_of_programs is None:
        raise SystemExit("PostgreSQL is not installed here.")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        if os.geteuid() == 0:
            shutil.chown(folder, "postgres")
        made = Cluster(folder, folder_of_programs)
        made.start()
        try:
            yield made
        finally:
            made.stop("immediate")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--times", type=int, default=20)
    parser.add_argument("--clients", type=int, default=8)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--minutes", type=float, default=math.inf, help="stop then, and say how far it went")
    options = parser.parse_args()
    dice = random.Random(options.seed)
    crew, wrong, done = Crew(), [], 0
    until = time.monotonic() + options.minutes * 60
    with cluster() as server:
        os.environ.pop("GAUGEBOOK_TESTS_BEGIN_WITH", None)
        os.environ["DATABASE_URL"] = f"postgres://gaugebook@127.0.0.1:{server.port}/postgres"
        with scratch_site() as url:
            from django.db import connection

            members = muster(crew, options.clients, options.seed)
            process, address = start(url)
            try:
                crew.served_at(address)
                while done < options.times and time.monotonic() < until and not wrong and not crew.faults:
                    crew.saved.wait(LONGEST_UNTIL_SAVED_S)
                    time.sleep(dice.uniform(0, 1))
                    corrected, known = list(crew.corrected), crew.acknowledged.copy()
                    connection.close()
                    server.stop(dice.choice(("fast", "immediate")))
                    server.start()
                    crew.saved.clear()
                    done += 1
                    wrong = [*looking.proven(), *looking.all_there(known, corrected)]
                send_home(crew, members)
            finally:
                kill(process)
            wrong += [
                *crew.faults,
                *looking.proven(),
                *looking.nothing_else(crew.acknowledged, crew.corrected),
                *looking.held_where_it_must_be(crew.dips, crew.acknowledged),
            ]
    print(
        f"{done} restarts, {len(crew.acknowledged)} movements and {len(crew.corrected)} corrections acknowledged, "
        f"{crew.resent} sheets sent again."
    )
    for sentence in wrong:
        print("WRONG:", sentence)
    return 1 if wrong or done < options.times or not crew.acknowledged else 0


if __name__ == "__main__":
    sys.exit(main())
