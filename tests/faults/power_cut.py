"""The power fails in the middle of an entry: browser and server are killed (signal 9) at a random moment while somebody
types malt intakes and saves them, and both are started again on the same disk.

Nobody waits for a box to be kept before leaving the next one. After each cut every box that had been left stands in its
box again, or its sheet is in the books: at most the last one may be lost. And no sheet is there twice. Run:
`python -m tests.faults.power_cut --cuts 200`, on the engine that DATABASE_URL names; SQLite if none. Needs Chromium;
bounded by its cuts; talks to 127.0.0.1 only.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import random
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from tests.faults.killable_browser import Browser
from tests.faults.scratch import begin, kill, made_ready, scratch_site, start, wait_until_nobody_writes
from tests.running_site import MANAGE, environment

NEW: Final = "/records/intake/new/"
BOXES: Final = ("kilograms", "moisture_percent", "nitrogen_percent", "predicted_spirit_yield_lpa_per_tonne")
SHORTEST_LIFE_S, LONGEST_LIFE_S = 0.3, 4.0
BETWEEN_S: Final = 0.3
# One power cut: which of the two goes first is left to chance.
MOST_BETWEEN_BLOWS_S: Final = 0.05
CUTS_BETWEEN_WORDS: Final = 10
FIRST_KILOGRAMS: Final = 10_000


@dataclass
class Sheet:
    """One intake: its weight is its name. What was left of it box by box, and whether Save was pressed or answered."""

    kilograms: int
    left: dict[str, str] = field(default_factory=dict)
    pressed: bool = False
    answered: bool = False

    @property
    def texts(self) -> dict[str, str]:
        number = self.kilograms % 10
        # All of them usual, so that nothing is asked before they are saved.
        texts = (str(self.kilograms), f"4.{number}", f"1.{3 + number % 5}", f"41{number}")
        return dict(zip(BOXES, texts, strict=True))


@dataclass
class Run:
    """What the cuts came to."""

    dice: random.Random
    sheets: list[Sheet] = field(default_factory=list)
    cuts: int = 0
    back: int = 0
    last_box_lost: int = 0
    wrong: list[str] = field(default_factory=list)

    @property
    def open_sheet(self) -> Sheet:
        if not self.sheets or self.sheets[-1].answered:
            self.sheets.append(Sheet(FIRST_KILOGRAMS + len(self.sheets)))
        return self.sheets[-1]


def in_books() -> Counter[int]:
    """How often each weight is in the books."""
    import json

    from django.db import connection

    from batches.models import Version

    found = Counter(
        int(json.loads(values)["kilograms"])
        for values in Version.objects.filter(record__kind="intake").values_list("values", flat=True)
    )
    # With the browser's driver on, this thread has a connection of its own, which is not to be taken for a server's.
    connection.close()
    return found


def type_on(page: Any, run: Run) -> None:
    """Fills sheets and saves them, one after the other, until the power fails."""
    while True:
        sheet = run.open_sheet
        if NEW not in page.url:
            page.goto(NEW)
        for name, text in sheet.texts.items():
            box = page.locator(f"main [name={name}]")
            if box.input_value() == text:
                sheet.left[name] = text
                continue
            box.fill(text)
            sheet.left[name] = text
            # The next box does not wait until this one is kept: several may be on their way when the power fails.
            box.press("Tab")
            time.sleep(run.dice.uniform(0.1, 1) * BETWEEN_S)
        sheet.pressed = True
        page.get_by_role("button", name="Save").last.click()
        page.wait_for_url(lambda url: "/records/intake/" in url and NEW not in url)
        sheet.answered = True
        page.goto(NEW)


def look(page: Any, run: Run) -> None:
    """What came back after a cut."""
    sheet = run.open_sheet
    # What waited in the browser is sent by itself.
    page.wait_until_nothing_waits()
    found = in_books()
    for kilograms, times in found.items():
        if times > 1:
            run.wrong.append(f"{kilograms} is in the books {times} times")
    for one in run.sheets:
        if one.answered and not found[one.kilograms]:
            run.wrong.append(f"{one.kilograms} was saved and is not in the books")
    if found[sheet.kilograms]:
        if not sheet.pressed:
            run.wrong.append(f"{sheet.kilograms} is in the books and Save was not pressed")
        sheet.answered = True
        return
    page.goto(NEW)
    back = {name: page.locator(f"main [name={name}]").input_value() for name in BOXES}
    lost = [name for name, text in sheet.left.items() if back[name] != text]
    run.back += len(sheet.left) - len(lost)
    if len(lost) > 1 or (lost and lost[0] != list(sheet.left)[-1]):
        run.wrong.append(f"of {sheet.kilograms}, left as {sheet.left}, these are lost: {lost}")
    run.last_box_lost += len(lost)
    sheet.left, sheet.pressed = {name: text for name, text in sheet.left.items() if name not in lost}, False


def live_once(ready: subprocess.Popen[str], browser: Browser, run: Run) -> None:
    """One life: both started, what came back looked at, typed on until the cut."""
    from playwright.sync_api import Error

    server, address = begin(ready)
    page = browser.start(address)
    try:
        browser.sign_on_if_asked()
        look(browser, run)
        if run.wrong:
            return
        blows = [lambda: kill_only(server), browser.kill]
        run.dice.shuffle(blows)
        gap = run.dice.uniform(0, MOST_BETWEEN_BLOWS_S)

        def cut() -> None:
            blows[0]()
            time.sleep(gap)
            blows[1]()

        timer = threading.Timer(run.dice.uniform(SHORTEST_LIFE_S, LONGEST_LIFE_S), cut)
        timer.start()
        with contextlib.suppress(Error):
            type_on(page, run)
        timer.join()
        run.cuts += 1
    finally:
        browser.kill()
        browser.disconnect()
        kill(server)
        wait_until_nobody_writes()


def kill_only(process: subprocess.Popen[str]) -> None:
    """kill -9, by its id, and nothing else: another thread waits for it."""
    process.kill()


def _let_go_of_the_database() -> None:
    from django.db import connection

    connection.close()


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cuts", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--minutes", type=float, default=120, help="stops after so long and says how many cuts it made")
    options = parser.parse_args()
    from playwright.sync_api import Error

    # The browser's driver runs a loop of its own in this thread; nothing else waits in it.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    run = Run(random.Random(options.seed))
    with scratch_site() as url, tempfile.TemporaryDirectory() as folder:
        os.environ["STATIC_ROOT"] = str(Path(folder) / "static")
        subprocess.run(
            [*MANAGE, "collectstatic", "--noinput", "-v0"], env=environment(url), check=True, stdin=subprocess.DEVNULL
        )
        _let_go_of_the_database()
        browser = Browser(Path(folder) / "profile")
        server, address = start(url)
        port = int(address.rpartition(":")[2])
        # One day before the cut: somebody has signed on at this PC and shut its browser in peace.
        browser.start(address)
        browser.sign_on_if_asked()
        browser.close()
        kill(server)
        began = time.monotonic()
        until = began + 60 * options.minutes
        ready = made_ready(url, port)
        while run.cuts < options.cuts and not run.wrong and time.monotonic() < until:
            # The server of the next life is a process of its own, made ready while this one is typed at.
            server, ready = ready, made_ready(url, port)
            try:
                live_once(server, browser, run)
            except Error as error:
                # What was found until then is said all the same.
                run.wrong.append(
                    f"after {run.cuts} cuts the site or its page stood still: {str(error).splitlines()[0]}"
                )
            if not run.cuts % CUTS_BETWEEN_WORDS:
                print(f"{run.cuts} cuts so far, in {time.monotonic() - began:.0f} s", flush=True)
        kill(ready)
        found = in_books()
        run.wrong += [f"{one} is in the books {times} times" for one, times in found.items() if times > 1]
    saved = sum(sheet.answered for sheet in run.sheets)
    print(
        f"{run.cuts} cuts: {saved} sheets saved, each once; {run.back} boxes found again, "
        f"the last one not, {run.last_box_lost} of {run.cuts} times."
    )
    for sentence in run.wrong:
        print("WRONG:", sentence)
    return 1 if run.wrong or run.cuts < options.cuts or not saved else 0


if __name__ == "__main__":
    sys.exit(main())
