"""The people: what each looks at and writes, from a process of their own.

Run by the benchmark as `python -m tests.benchmarks.people.at_work`, which reads what it is to do as JSON and says as
JSON how long each answer took and what was acknowledged. It stops by itself.
"""

from __future__ import annotations

import dataclasses
import http.client
import json
import random
import re
import sys
import threading
import time
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from tests.benchmarks.people.browser import REDIRECTED, Answer, Asked, Browser, hidden
from tests.benchmarks.people.plant import RUNS_OF_A_STILL, STILLS, TANKS, Plant
from tests.faults.crew import WRONG, boxes_of

OK = 200
MOST_ASKED = 20_000
# One action in three begins a writing; with the page it is written on, one request in four is one.
WRITES_OF_ACTIONS = 1 / 3
ODD_RUNS = 0.1
NEW_PAGE = re.compile(r'name="answered"[^>]*value="([^"]*)"')
LOOKS = {
    "staff": {
        "shift": 4, "entry form": 3, "record": 3, "list of records": 2, "list with filter": 1, "find": 1,
        "warehouse": 1, "cask": 1, "findings": 1, "plant": 1, "own record": 3,
    },
    "manager": {
        "shift": 2, "month": 2, "findings": 2, "finding": 2, "enquiry": 2, "vessel account": 2, "casks expected": 1,
        "warehouse": 1, "list with filter": 1, "record": 2, "record PDF": 0.5, "books": 1, "own record": 1,
    },
    "officer": {
        "books": 1, "month": 3, "findings": 1, "enquiry": 1, "vessel account": 2, "list of records": 2, "trail": 1,
        "record": 2, "warehouse": 1, "find": 1, "record PDF": 0.5,
    },
}  # fmt: skip


@dataclass
class Shared:
    """What all know together: the site, the plant, and what was acknowledged."""

    address: str
    pages: dict[str, str]
    plant: Plant
    pause_s: float
    until: float
    vessels: dict[str, threading.Lock]
    asked: list[Asked] = field(default_factory=list)
    began: float = field(default_factory=time.monotonic)
    sign_ons_s: list[float] = field(default_factory=list)
    # Number of a record, its kind and the sheet that was acknowledged.
    written: dict[str, tuple[str, dict[str, str]]] = field(default_factory=dict)
    corrected: list[tuple[str, str]] = field(default_factory=list)
    readings: list[tuple[str, str]] = field(default_factory=list)
    guard: threading.Lock = field(default_factory=threading.Lock)


class PersonAtWork(threading.Thread):
    """One person, who asks again a pause after each answer."""

    def __init__(self, shared: Shared, person: dict[str, str], begins_after_s: float, seed: int) -> None:
        super().__init__(daemon=True)
        self.shared, self.person, self.begins_after_s = shared, person, begins_after_s
        self.dice = random.Random(seed)
        self.browser = Browser(shared.address)
        self.own: dict[str, tuple[str, dict[str, str]]] = {}
        self.writes = float(person["writes"])

    def run(self) -> None:
        shared = self.shared
        time.sleep(self.begins_after_s)
        try:
            shared.sign_ons_s.append(self.browser.sign_on(self.person["username"], self.person["password"]))
            time.sleep(max(0.0, shared.began - time.monotonic()) + self.dice.random() * shared.pause_s)
            while time.monotonic() < shared.until and len(shared.asked) < MOST_ASKED:
                if self.dice.random() < self.writes:
                    self._write()
                else:
                    self._look()
                time.sleep(shared.pause_s)
        except (OSError, http.client.HTTPException, AssertionError, ValueError) as error:
            self._note("browser", 0.0, wrong=f"{self.person['username']}: {type(error).__name__}: {error}")
        finally:
            self.browser.close()

    # -- looking

    def _look(self) -> None:
        looks = LOOKS[self.person["role"]]
        there = [kind for kind in looks if kind in self.shared.pages or (kind == "own record" and self.own)]
        [kind] = self.dice.choices(there, [looks[one] for one in there])
        if kind == "own record":
            number = self.dice.choice(list(self.own))
            self._see(kind, f"/records/{self.own[number][0]}/{number}/")
        else:
            self._see(kind, self.dice.choice(self.shared.pages[kind]))

    def _see(self, kind: str, path: str) -> Answer:
        """A page, by whatever other addresses it is reached."""
        answer = self.browser.ask(path)
        seconds = answer.seconds
        while answer.status == REDIRECTED:
            answer = self.browser.ask(answer.leads_to)
            seconds += answer.seconds
        self._note(kind, seconds, wrong="" if answer.status == OK else f"{path} gave {answer.status}")
        return answer

    # -- writing

    def _write(self) -> None:
        runs = [number for number, (kind, _) in self.own.items() if kind == "spirit_run"]
        transfers = [number for number, (kind, _) in self.own.items() if kind == "transfer"]
        throw = self.dice.random()
        if throw < 0.3:
            self._spirit_run()
        elif throw < 0.5 and runs:
            self._reading(self.dice.choice(runs))
        elif throw < 0.6 and transfers:
            self._correct(self.dice.choice(transfers))
        else:
            self._transfer()

    def _transfer(self) -> None:
        form = self._form("/records/transfer/new/")
        giver, taker = self.dice.sample(TANKS, 2)
        plant = self.shared.plant
        first, second = sorted((giver, taker))
        with self.shared.vessels[first], self.shared.vessels[second]:
            moved = self.dice.randint(1, 40)
            if plant.dips[giver] < moved + 100 or plant.dips[taker] > 2900:
                return
            with self.shared.guard:
                sheet = plant.transfer(giver, taker, moved)
            sent = self._send("transfer", "/records/transfer/new/", {**form, **sheet})
            if self._acknowledged("transfer", sent, sheet):
                plant.dips[giver] -= moved
                plant.dips[taker] += moved
        self._after(sent)

    def _spirit_run(self) -> None:
        form = self._form("/records/spirit_run/new/")
        plant = self.shared.plant
        still = self.dice.choice(STILLS)
        with self.shared.vessels[f"PS{still}"]:
            if plant.runs[still] >= RUNS_OF_A_STILL:
                return
            odd = self.dice.random() < ODD_RUNS
            sheet = plant.spirit_run(still, odd=odd)
            sent = self._send("odd spirit run" if odd else "spirit run", "/records/spirit_run/new/", {**form, **sheet})
            if self._acknowledged("spirit_run", sent, sheet):
                plant.has_run(still)
        self._after(sent)

    def _reading(self, number: str) -> None:
        path = f"/records/spirit_run/{number}/reading/"
        form = self._form(path)
        charged = datetime.fromisoformat(self.own[number][1]["charged_at"])
        at = charged + timedelta(minutes=self.dice.randint(5, 100))
        percent = f"{self.dice.randint(600, 750) / 10}"
        sent = self._send("reading", path, {**form, "at": f"{at:%Y-%m-%d %H:%M}", "distillate_percent": percent})
        if sent.status == REDIRECTED:
            self.shared.readings.append((number, percent))
        self._after(sent)

    def _correct(self, number: str) -> None:
        """One temperature of a transfer of one's own was read a shade wrong."""
        path = f"/records/transfer/{number}/correct/"
        page = self._see("correction form", path).page
        time.sleep(self.shared.pause_s)
        body = boxes_of(page)
        celsius = f"{20 + self.dice.randint(-3, 3) / 10 or 20.1:.1f}"
        if body["to_after_celsius"] == celsius:
            return
        body |= {"to_after_celsius": celsius, "reason": "misread"}
        with self.shared.vessels[body["from_vessel"]]:
            sent = self._send("correction", path, body)
        if sent.status == REDIRECTED:
            self.shared.corrected.append((number, celsius))
        self._after(sent)

    def _form(self, path: str) -> dict[str, str]:
        """The tokens of a page to be written on, which is then filled in for as long as a pause."""
        tokens = hidden(self._see("page to write on", path).page)
        time.sleep(self.shared.pause_s)
        return tokens

    def _send(self, kind: str, path: str, body: dict[str, str]) -> Answer:
        """Sends a sheet; where it is asked whether that was so long ago, says that it was."""
        answered: list[str] = []
        whole = 0.0
        while True:
            answer = self.browser.ask(path, {**body, "answered": answered})
            whole += answer.seconds
            questions = [one for one in NEW_PAGE.findall(answer.page) if one not in answered]
            if answer.status != OK or not questions:
                break
            self._note("question", answer.seconds)
            whole = 0.0
            answered += questions
        wrong = ""
        if answer.status != REDIRECTED:
            found = WRONG.search(answer.page)
            said = re.sub(r"<[^>]+>|\s+", " ", found[0] if found else answer.page[:1500])
            wrong = f"{kind} gave {answer.status}: {said[:400]}"
        self._note(kind, whole, writes=True, wrong=wrong)
        return answer

    def _acknowledged(self, kind: str, sent: Answer, sheet: dict[str, str]) -> bool:
        if sent.status != REDIRECTED:
            return False
        number = sent.leads_to.rstrip("/").rsplit("/", 1)[-1]
        self.own[number] = self.shared.written[number] = (kind, sheet)
        return True

    def _after(self, sent: Answer) -> None:
        if sent.status == REDIRECTED:
            self._see("page after a writing", sent.leads_to)

    def _note(self, kind: str, seconds: float, *, writes: bool = False, wrong: str = "") -> None:
        at = time.monotonic() - self.shared.began
        self.shared.asked.append(Asked(kind, at, seconds, writes, wrong))


def work(asked: dict[str, Any]) -> dict[str, Any]:
    """All people from their signing on until the time is over."""
    people = asked["people"]
    over_s = float(asked["sign_on_over_s"])
    began = time.monotonic() + over_s + 2
    shared = Shared(
        address=asked["address"],
        pages=asked["pages"],
        plant=Plant(datetime.fromisoformat(asked["begins"])),
        pause_s=float(asked["pause_s"]),
        until=began + float(asked["seconds"]),
        vessels={code: threading.Lock() for code in (*TANKS, *(f"PS{still}" for still in STILLS))},
        began=began,
    )
    there = [
        PersonAtWork(shared, person, over_s * place / len(people), int(asked["seed"]) * 1000 + place)
        for place, person in enumerate(people)
    ]
    for one in there:
        one.start()
    time.sleep(max(0.0, began - time.monotonic()))
    print("began", file=sys.stderr, flush=True)
    for one in there:
        one.join()
    return {
        "asked": [dataclasses.asdict(one) for one in shared.asked],
        "sign_ons_s": shared.sign_ons_s,
        "written": shared.written,
        "corrected": shared.corrected,
        "readings": shared.readings,
    }


if __name__ == "__main__":
    json.dump(work(json.load(sys.stdin)), sys.stdout)
