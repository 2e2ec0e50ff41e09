"""How much memory `serve` holds while ten people sign on together, and how long they wait.

Run from the root: `python -m tests.benchmarks.signing_on [--together 10] [--rounds 3]`, on the engine that DATABASE_URL
names; SQLite if none. The site is a scratch database served on 127.0.0.1, and ended at the end. Printed in megabytes
and as ratios to what the process held before; aim: under 300 MB. It passes or fails nothing.
"""

from __future__ import annotations

import argparse
import http.cookiejar
import re
import subprocess
import sys
import threading
import time
import urllib.parse
import urllib.request
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path

from tests.faults.scratch import scratch_database
from tests.running_site import MANAGE, _address, environment

PASSWORD = "of-benchmarks-only"
LOOK_EVERY_S = 0.005


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--together", type=int, default=10)
    parser.add_argument("--rounds", type=int, default=3)
    options = parser.parse_args()
    with scratch_database() as url:
        _people(options.together)
        with _served(url) as (site, process):
            # The first sign-on loads what every later one has.
            _sign_on(site, "person-0")
            before = _held(process)
            print(f"{options.together} sign-ons together, {options.rounds} rounds; before them {before:.0f} MB")
            for _ in range(options.rounds):
                most, waits = _together(site, process, options.together)
                print(
                    f"  most held {most:.0f} MB, {most / before:.2f} times that before; "
                    f"the quickest waited {min(waits):.2f} s, the slowest {max(waits) / min(waits):.1f} times that"
                )


def _people(number: int) -> None:
    from django.core.management import call_command

    from tests.people import somebody

    call_command("migrate", interactive=False, verbosity=0)
    for place in range(number):
        somebody(f"person-{place}", "staff", password=PASSWORD)


@contextmanager
def _served(url: str) -> Iterator[tuple[str, int]]:
    process = subprocess.Popen(
        [*MANAGE, "serve", "--port", "0"],
        env=environment(url),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    try:
        yield _address(process), process.pid
    finally:
        process.terminate()
        process.wait()


def _together(site: str, process: int, number: int) -> tuple[float, list[float]]:
    ended = threading.Event()
    most = [0.0]

    def watch() -> None:
        while not ended.wait(LOOK_EVERY_S):
            most[0] = max(most[0], _held(process))

    watching = threading.Thread(target=watch)
    watching.start()
    with ThreadPoolExecutor(number) as people:
        waits = list(people.map(lambda place: _sign_on(site, f"person-{place}"), range(number)))
    ended.set()
    watching.join()
    return most[0], waits


def _sign_on(site: str, username: str) -> float:
    """Signs on; gives the seconds it took. SystemExit where it did not succeed."""
    jar = http.cookiejar.CookieJar()
    here = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(jar))
    page = here.open(f"{site}/sign-on/", timeout=30).read().decode()
    token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page)
    assert token is not None
    typed = {"csrfmiddlewaretoken": token.group(1), "username": username, "password": PASSWORD}
    began = time.perf_counter()
    here.open(f"{site}/sign-on/", urllib.parse.urlencode(typed).encode(), timeout=60).read()
    taken = time.perf_counter() - began
    if not any(cookie.name == "sessionid" for cookie in jar):
        sys.exit(f"{username} was not signed on.")
    return taken


def _held(process: int) -> float:
    """Resident memory of a process in megabytes, as Linux says (proc(5), VmRSS)."""
    for line in Path(f"/proc/{process}/status").read_text(encoding="ascii").splitlines():
        if line.startswith("VmRSS:"):
            return int(line.split()[1]) / 1024
    return 0.0


if __name__ == "__main__":
    main()
