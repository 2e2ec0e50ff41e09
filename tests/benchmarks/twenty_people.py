"""How long twenty people wait for the site's own server, who ask again three seconds after each answer.

Run from the root: `python -m tests.benchmarks.twenty_people [--people 20] [--minutes 5] [--pause 3]
[--site FOLDER_OR_URL]`. The site is a folder that `large_site` made, or a database as DATABASE_URL has it; without it
the demonstration is loaded. A copy of it is served by `serve` on a free port of this computer; the people are a process
of their own. One request in four writes. `--without-pause` is eight people who read and two who write without pause.
`--slowest N` names the slowest answers.

Printed are the milliseconds until the whole of an answer was read (of a writing until its redirect), the seconds of
processor of the server (with the processes it started) for each request, the load, and what was wrong: an error, a
writing that is not there once, a record left uncompared, findings kept that are not those made from nothing, a proof
that does not hold. Talks to 127.0.0.1 only, is bounded by its minutes, and stops by itself.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from math import ceil
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from typing import Any

from tests.running_site import ROOT, SECRET_KEY, Databases, environment, run, serving_process

PASSWORD = "of-benchmarks-only"
# Of twenty people so many are of each role; officers only read.
ROLES = ("staff",) * 7 + ("manager",) * 2 + ("officer",)
SIGN_ON_OVER_S = 10
LONGEST_CATCHING_UP_S = 120
READS_MS, WRITES_MS = 250, 400
TICKS = os.sysconf("SC_CLK_TCK")
MOST_OF_A_KIND = 20


def main() -> int:
    parser = argparse.ArgumentParser(prog="tests.benchmarks.twenty_people", description=__doc__)
    parser.add_argument("--people", type=int, default=20)
    parser.add_argument("--minutes", type=float, default=5)
    parser.add_argument("--pause", type=float, default=3)
    parser.add_argument("--site", default="", help="a folder of large_site, a file of SQLite or a URL")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--slowest", type=int, default=0, metavar="N")
    parser.add_argument("--without-pause", action="store_true", help="eight who read and two who write, at once")
    asked = parser.parse_args()
    if not (1 <= asked.people <= 100 and 0 < asked.minutes <= 60 and 0 <= asked.pause <= 60):
        sys.exit("From 1 to 100 people, for up to 60 minutes, with pauses of up to 60 s.")
    if asked.without_pause:
        asked.people, asked.pause = 10, 0
    with _copy_of(asked.site) as url:
        return _at_work(url, asked)


@contextmanager
def _copy_of(site: str) -> Iterator[str]:
    """A copy of a site, with Django set up on it and the people's vessels and sign-ons in it."""
    with TemporaryDirectory() as scratch:
        databases = Databases(Path(scratch), "people")
        try:
            if site:
                folder = Path(site) / "site.sqlite3"
                file = folder if folder.is_file() else Path(site)
                url = databases.copy_of(site if "://" in site else f"sqlite:///{file.resolve()}")
            else:
                url = databases.new()
            made = run(url, *(("migrate", "--verbosity", "0") if site else ("demo", "--month", "--no-serve")))
            if made.returncode:
                sys.exit(made.stdout + made.stderr)
            os.environ.update(DATABASE_URL=url, DJANGO_SETTINGS_MODULE="distillery.settings", SECRET_KEY=SECRET_KEY)
            import django

            django.setup()
            yield url
        finally:
            databases.close()


def _people(number: int, *, without_pause: bool) -> list[dict[str, str]]:
    """Signs so many people on for the first time; gives their names and what share of what they do is writing."""
    from tests.benchmarks.people.at_work import WRITES_OF_ACTIONS
    from tests.people import somebody

    roles = [ROLES[place % len(ROLES)] for place in range(number)]
    writers = sum(role != "officer" for role in roles)
    people = []
    for place, role in enumerate(roles):
        name = f"person-{place}"
        somebody(name, role, password=PASSWORD, first_name=f"Person {place}")
        share = WRITES_OF_ACTIONS * number / writers if role != "officer" else 0.0
        if without_pause:
            share = 1.0 if place < 2 else 0.0
        people.append({"username": name, "password": PASSWORD, "role": role, "writes": str(share)})
    return people


def _pages() -> dict[str, list[str]]:
    """The addresses of each kind that people look at."""
    from django.urls import reverse

    from batches.models import Record, State
    from batches.pages.records.shown import record_address
    from ledger.enquiries.finding_of import look_at
    from ledger.enquiries.models import Enquiry
    from tests.benchmarks.pages_at_size import pages

    found = {kind: [address] for kind, address in pages().items() if kind != "month PDF"}
    newest = Record.objects.filter(state=State.COMPLETE).order_by("-pk")[:MOST_OF_A_KIND]
    kinds = ("wash_run", "spirit_run", "transfer", "cask_fill", "mash")
    found["record"] = [record_address(one) for one in newest]
    found["entry form"] = [reverse("record_new", kwargs={"kind": kind}) for kind in kinds]
    found["list of records"] = [reverse("record_list", kwargs={"kind": kind}) for kind in kinds]
    found["list with filter"] = [f"{one}?state=complete&sort=-number" for one in found["list of records"]]
    found["plant"] = [reverse("plant")]
    enquiries = list(Enquiry.objects.order_by("-pk")[:MOST_OF_A_KIND])
    if enquiries:
        found["enquiry"] = [reverse("enquiry", kwargs={"number": one.number}) for one in enquiries]
    # A site has the comparisons of its months kept; those of a copy were marked with another key than this server's.
    for one in enquiries:
        look_at(one)
    return found


def _at_work(url: str, asked: argparse.Namespace) -> int:
    from django.db import connection

    from distillery.people.models import Person
    from tests.benchmarks.people import looking, plant

    people = _people(asked.people, without_pause=asked.without_pause)
    begins = plant.build(Person.objects.get(username="person-0"))
    task = {
        "people": people,
        "pages": _pages(),
        "begins": begins.isoformat(),
        "seconds": 60 * asked.minutes,
        "pause_s": asked.pause,
        "sign_on_over_s": SIGN_ON_OVER_S,
        "seed": asked.seed,
    }
    connection.close()
    with serving_process(url) as (process, address):
        before = 0.0
        load = os.getloadavg()[0]
        client = subprocess.Popen(
            [sys.executable, "-m", "tests.benchmarks.people.at_work"],
            cwd=ROOT,
            env=environment(url),
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        assert client.stdin is not None
        assert client.stdout is not None
        assert client.stderr is not None
        client.stdin.write(json.dumps({**task, "address": address}))
        client.stdin.close()
        client.stderr.readline()
        before = processor_s(process.pid)
        done = json.loads(client.stdout.read() or "{}")
        spent = processor_s(process.pid) - before
        print(client.stderr.read(), end="")
        if client.wait():
            return 1
        caught_up = _caught_up()
        memory = _memory_mb(process.pid)
    wrong = [one["wrong"] for one in done["asked"] if one["wrong"]]
    _tell(done, spent, memory, (load, os.getloadavg()[0]), caught_up, asked.slowest)
    wrong += looking.wrong_with(done)
    connection.close()
    for sentence in wrong[:MOST_OF_A_KIND]:
        print("WRONG:", sentence)
    print(
        f"{len(wrong)} wrong; {len(done['written'])} records, {len(done['corrected'])} corrections and "
        f"{len(done['readings'])} readings acknowledged, each looked for"
    )
    return 1 if wrong else 0


def _caught_up() -> float:
    """Seconds until nothing is uncompared, while the server still runs."""
    from ledger.kept.models import Uncompared

    began = time.monotonic()
    while Uncompared.objects.exists() and time.monotonic() - began < LONGEST_CATCHING_UP_S:
        time.sleep(0.2)
    return time.monotonic() - began


def _tell(
    done: dict[str, Any], spent: float, memory: str, load: tuple[float, float], caught_up: float, slowest: int
) -> None:
    asked: list[dict[str, Any]] = done["asked"]
    of_kind: dict[str, list[float]] = {}
    for one in asked:
        of_kind.setdefault(f"{'write: ' if one['writes'] else ''}{one['kind']}", []).append(one["seconds"])
    reads = [one["seconds"] for one in asked if not one["writes"]]
    writes = [one["seconds"] for one in asked if one["writes"]]
    print("| asked | times | p50 ms | p95 ms | worst ms |")
    print("| --- | --- | --- | --- | --- |")
    for kind, taken in sorted(of_kind.items()):
        print(f"| {kind} | {_cells(taken)} |")
    print(f"| all reads, p95 to be under {READS_MS} | {_cells(reads)} |")
    print(f"| all writes, p95 to be under {WRITES_MS} | {_cells(writes)} |")
    print(f"| signing on, apart | {_cells(done['sign_ons_s'])} |")
    print(
        f"{len(asked)} requests; the server spent {spent:.1f} s of processor, "
        f"{1000 * spent / max(len(asked), 1):.0f} ms a request; memory at most {memory}; "
        f"load {load[0]:.1f} before, {load[1]:.1f} after, {os.cpu_count()} cores; "
        f"caught up {caught_up:.1f} s after the last answer"
    )
    for one in sorted(asked, key=lambda each: -each["seconds"])[:slowest]:
        print(f"  {1000 * one['seconds']:6.0f} ms at {one['at']:5.1f} s: {one['kind']}")


def _cells(taken_s: Sequence[float]) -> str:
    if not taken_s:
        return "0 | - | - | -"
    taken = sorted(1000 * one for one in taken_s)
    return f"{len(taken)} | {median(taken):.0f} | {taken[ceil(0.95 * len(taken)) - 1]:.0f} | {taken[-1]:.0f}"


def _family(pid: int) -> list[int]:
    """A process and all that it started, from /proc."""
    parents: dict[int, int] = {}
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            parents[int(folder.name)] = int((folder / "stat").read_text().rpartition(")")[2].split()[1])
        except OSError:
            continue
    family = [pid]
    for one in family:
        family += [child for child, parent in parents.items() if parent == one]
    return family


def processor_s(pid: int) -> float:
    """Seconds of processor of a process and all that it started, those that ended included."""
    spent = 0
    for one in _family(pid):
        fields = Path(f"/proc/{one}/stat").read_text().rpartition(")")[2].split()
        spent += sum(int(ticks) for ticks in fields[11:15])
    return spent / TICKS


def _memory_mb(pid: int) -> str:
    most = []
    for one in _family(pid):
        lines = Path(f"/proc/{one}/status").read_text().splitlines()
        most += [int(line.split()[1]) // 1024 for line in lines if line.startswith("VmHWM")]
    return " and ".join(f"{one} MB" for one in most)


if __name__ == "__main__":
    sys.exit(main())
