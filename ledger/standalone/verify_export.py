"""Checks an exported ledger without the program that wrote it: python verify_export.py FOLDER [SEAL]

Recomputes every seal from movements.jsonl and every digest of a record from versions.jsonl, sees that the legs of each
movement sum to nothing in pure alcohol and in mass, that the tables say the same as the sealed lines, and that the
balances are what the legs add up to. Every closing is recomputed too, held against the legs, and against movements
written into a closed period. Every seal of the books is recomputed from the trail (trail.jsonl) and the movements. A
seal from a printed page given as second argument is looked for. Where the folder is that of a bundle, the digests at
the foot of its pages are recomputed as well, by verify_pages.py beside this file. Needs Python 3.10 or later and
nothing else.

Ends with status 0 if everything holds, 1 at the first place that does not, 2 if it cannot be read. What it cannot know:
whether movements were cut off at the end. Compare the last seal with one that was printed or noted elsewhere.
"""

from __future__ import annotations

import csv
import hashlib
import importlib.util
import json
import re
import sys
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Any

FIRST_SEAL = "0" * 64
BEGINS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
A_NUMBER = re.compile(r"[+-]?[0-9]+(\.[0-9]+)?([eE][+-]?[0-9]+)?")
CLOSING_COLUMNS = (
    "number",
    "period",
    "begins",
    "ends",
    "asked_by",
    "asked_at",
    "asked_after",
    "remark",
    "agreed_by",
    "agreed_at",
    "last_number",
    "last_seal",
    "books_seal",
    "previous_digest",
    "digest",
)
PARTS = ("legs", "gauges", "measures", "figures", "duties")
ACCOUNT, PURE_UL, MASS_G = 2, 8, 9
JUDGED_COLUMNS = ("judged_against", "judged_ul", "judged_parts")
MOVEMENT_COLUMNS = (
    "number",
    "kind",
    "operation",
    "happened_at",
    "true_at",
    "written_at",
    "period",
    "person",
    "second",
    "record_kind",
    "record_number",
    "moment",
    "record_digest",
    "reason",
    "corrects",
    "restates",
    "slot",
    *JUDGED_COLUMNS,
    "previous_seal",
    "seal",
)


class Broken(Exception):
    """A place at which the export does not hold."""


def seal_of(previous: str, content: Any) -> str:
    """The digest of the previous seal, a line feed and the content as JSON in its one form."""
    return hashlib.sha256(f"{previous}\n{in_one_form(content)}".encode("ascii")).hexdigest()


def in_one_form(content: Any) -> str:
    """JSON that is always the same for the same data."""
    return json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=True, allow_nan=False)


def as_text(value: Any) -> str:
    """A cell as the tables have it: what a spreadsheet would take for a formula stands behind an apostrophe."""
    text = "" if value is None else str(value)
    if isinstance(value, str) and text.startswith(BEGINS_A_FORMULA) and not A_NUMBER.fullmatch(text):
        return f"'{text}"
    return text


class Table:
    """One comma-separated file, read a row at a time beside the sealed lines."""

    def __init__(self, folder: Path, name: str) -> None:
        self.name = f"{name}.csv"
        self.rows = self._read(folder / self.name)
        next(self.rows, None)

    def expect(self, place: str, row: list[Any]) -> None:
        """Raises Broken unless the next row of the table is this one."""
        found = next(self.rows, None)
        if found != [as_text(value) for value in row]:
            raise Broken(f"{place}: {self.name} does not say what is sealed")

    def expect_end(self) -> None:
        if next(self.rows, None) is not None:
            raise Broken(f"{self.name} has rows that no movement has sealed")

    @staticmethod
    def _read(path: Path) -> Iterator[list[str]]:
        with path.open(encoding="utf-8", newline="") as file:
            yield from csv.reader(file)


class Closed:
    """The closings of the export, held against the movements as they are read."""

    def __init__(self, folder: Path) -> None:
        with (folder / "closings.jsonl").open(encoding="utf-8") as lines:
            self.closings = [json.loads(line) for line in lines]
        self.nets: dict[str, dict[str, list[int]]] = defaultdict(lambda: defaultdict(lambda: [0, 0]))
        self.seals: dict[int, str] = {}
        # How many were made before the movement that is read.
        self.made = 0
        self.wanted = {closing["content"]["last_number"] for closing in self.closings}

    def add(self, place: str, movement: dict[str, Any], seal: str) -> None:
        """Takes a movement in. Raises Broken where it was written into a period closed before."""
        number, period = movement["number"], movement["period"]
        while self.made < len(self.closings) and self.closings[self.made]["content"]["last_number"] < number:
            self.made += 1
        if self.made:
            content = self.closings[self.made - 1]["content"]
            if period <= content["period"] or movement["happened_at"] < content["ends"]:
                raise Broken(f"{place}: it was written into a period after {content['period']} was closed")
        if number in self.wanted:
            self.seals[number] = seal
        net = self.nets[period]
        for leg in movement["legs"]:
            net[leg[ACCOUNT]][0] += leg[PURE_UL]
            net[leg[ACCOUNT]][1] += leg[MASS_G]

    def verify(self, closings: Table, balances: Table) -> None:
        """Raises Broken at the first closing that does not hold."""
        previous = FIRST_SEAL
        for number, closing in enumerate(self.closings, start=1):
            content, digest = closing["content"], closing["digest"]
            place = f"closing {content['number']} of {content['period']}"
            if content["number"] != number or closing["previous_digest"] != previous:
                raise Broken(f"{place}: it does not follow the closing before it")
            if seal_of(previous, content) != digest:
                raise Broken(f"{place}: its content does not give its digest")
            if content["asked_by"] == content["agreed_by"]:
                raise Broken(f"{place}: one person asked and agreed")
            if content["last_number"] and self.seals.get(content["last_number"]) != content["last_seal"]:
                raise Broken(f"{place}: movement {content['last_number']} does not bear the seal it names")
            if content["balances"] != self._sums(content["period"]):
                raise Broken(f"{place}: its balances are not what the legs add up to")
            values = {**content, **closing}
            closings.expect(place, [values[column] for column in CLOSING_COLUMNS])
            for row in content["balances"]:
                balances.expect(place, [number, *row])
            previous = digest

    def _sums(self, period: str) -> list[list[Any]]:
        sums: dict[str, list[int]] = defaultdict(lambda: [0, 0])
        for one, net in self.nets.items():
            if one <= period:
                for code, (pure, mass) in net.items():
                    sums[code][0] += pure
                    sums[code][1] += mass
        return [[code, *amounts] for code, amounts in sorted(sums.items()) if any(amounts)]


class Seals:
    """The seals of the books, each over the trail up to an entry and the movements up to one."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        with (folder / "seals.jsonl").open(encoding="utf-8") as lines:
            self.named = {json.loads(line)["content"]["movements"][0] for line in lines}
        self.movements: dict[int, str] = {0: FIRST_SEAL}

    def add(self, number: int, seal: str) -> None:
        """Takes a movement in."""
        if number in self.named:
            self.movements[number] = seal

    def verify(self, wanted: str) -> int:
        """Raises Broken at the first seal that does not hold; gives the number of the one that is wanted, or 0."""
        previous, digest, entry, number, found = FIRST_SEAL, FIRST_SEAL, 0, 0, 0
        with (
            (self.folder / "seals.jsonl").open(encoding="utf-8") as seals,
            (self.folder / "trail.jsonl").open(encoding="utf-8") as trail,
        ):
            for line in seals:
                one = json.loads(line)
                content, seal = one["content"], one["seal"]
                number += 1
                place = f"seal {content['number']} of the books"
                if content["number"] != number or one["previous_seal"] != previous:
                    raise Broken(f"{place}: it does not follow the seal before it")
                if seal_of(previous, content) != seal:
                    raise Broken(f"{place}: what it says does not give it")
                last, sealed = content["trail"]
                while entry < last and (row := next(trail, "")):
                    entry, digest = json.loads(row)[0], seal_of(digest, json.loads(row))
                if (entry, digest) != (last, sealed):
                    raise Broken(f"{place}: the trail up to it is not what was sealed")
                movement, its_seal = content["movements"]
                if self.movements.get(movement) != its_seal:
                    raise Broken(f"{place}: movement {movement} does not bear the seal it names")
                if wanted and seal.startswith(wanted.lower()):
                    found = number
                previous = seal
        return found


def versions_of(folder: Path) -> set[str]:
    """The digests of all versions of records. Raises Broken at the first one that does not hold."""
    digests: set[str] = set()
    number, serial, digest = "", 0, ""
    with (folder / "versions.jsonl").open(encoding="utf-8") as lines:
        for line in lines:
            version = json.loads(line)
            content = version["content"]
            place = f"{content['number']}, version {content['serial']}"
            if content["number"] != number:
                number, serial, digest = content["number"], 0, ""
            if content["serial"] != serial + 1 or content["before"] != digest:
                raise Broken(f"{place}: it does not follow the version before it")
            if hashlib.sha256(in_one_form(content).encode("ascii")).hexdigest() != version["digest"]:
                raise Broken(f"{place}: its content does not give its digest")
            serial, digest = serial + 1, version["digest"]
            digests.add(digest)
    return digests


def verify(folder: Path, wanted: str = "") -> str:
    """Reads the whole export and gives one sentence. Raises Broken at the first place that does not hold."""
    csv.field_size_limit(2**31 - 1)
    tables = {name: Table(folder, name) for name in ("movements", *PARTS, "balances", "closings", "closing_balances")}
    sums: dict[str, list[int]] = defaultdict(lambda: [0, 0])
    closed = Closed(folder)
    seals = Seals(folder)
    versions = versions_of(folder)
    previous, number, found = FIRST_SEAL, 0, 0
    with (folder / "movements.jsonl").open(encoding="utf-8") as lines:
        for line in lines:
            movement = json.loads(line)
            content, seal = movement["content"], movement["seal"]
            number += 1
            place = f"movement {content['number']} ({' '.join(content['record'][:2])})"
            if content["number"] != number:
                raise Broken(f"{place}: number {number} is missing from the chain")
            if movement["previous_seal"] != previous:
                raise Broken(f"{place}: it does not follow the seal of the movement before it")
            if seal_of(previous, content) != seal:
                raise Broken(f"{place}: its content does not give its seal")
            if content["record_digest"] and content["record_digest"] not in versions:
                raise Broken(f"{place}: the version of the record that it was posted from is not there")
            for column in (PURE_UL, MASS_G):
                if sum(leg[column] for leg in content["legs"]):
                    raise Broken(f"{place}: its legs do not sum to nothing")
            record = dict(zip(("record_kind", "record_number", "moment"), content["record"], strict=True))
            judged = dict(zip(JUDGED_COLUMNS, content["judged"], strict=True))
            values = {**content, **record, **judged, **movement}
            tables["movements"].expect(place, [values[column] for column in MOVEMENT_COLUMNS])
            for part in PARTS:
                for row in content[part]:
                    tables[part].expect(place, [number, *row])
            for leg in content["legs"]:
                sums[leg[ACCOUNT]][0] += leg[PURE_UL]
                sums[leg[ACCOUNT]][1] += leg[MASS_G]
            closed.add(place, content, seal)
            seals.add(number, seal)
            if wanted and seal.startswith(wanted.lower()):
                found = number
            previous = seal
    for code in sorted(sums):
        tables["balances"].expect(f"balance of {code}", [code, *sums[code]])
    closed.verify(tables["closings"], tables["closing_balances"])
    for table in tables.values():
        table.expect_end()
    of_the_books = seals.verify(wanted)
    if wanted and not found and not of_the_books:
        raise Broken(f"neither the books nor a movement has a seal that begins with {wanted}")
    what = f"movement {found}" if found else f"the books, number {of_the_books}"
    at = f" {wanted} is the seal of {what}." if wanted else ""
    held = f"{number} movements, every seal holds, every balance adds up. Last seal {previous}.{at}"
    return held + paper(folder, previous)


def paper(folder: Path, last_seal: str) -> str:
    """What is said of the paper of a bundle, where the folder has one. Raises Broken at the first place that does not
    hold.
    """
    if not (folder / "documents.jsonl").exists():
        return ""
    beside = importlib.util.spec_from_file_location("verify_pages", Path(__file__).with_name("verify_pages.py"))
    if beside is None or beside.loader is None or not Path(str(beside.origin)).exists():
        raise ImportError("verify_pages.py does not lie beside this file")
    module = importlib.util.module_from_spec(beside)
    beside.loader.exec_module(module)
    pages = module.Paper(folder, last_seal)
    if fault := pages.fault():
        raise Broken(fault)
    return f"\n{pages.said()}"


def main(arguments: list[str]) -> int:
    if len(arguments) not in (1, 2):
        print(__doc__)
        return 2
    try:
        print(verify(Path(arguments[0]), *arguments[1:]))
    except Broken as broken:
        print(f"BROKEN: {broken}")
        return 1
    except (ImportError, OSError, ValueError, LookupError, TypeError, AttributeError) as unreadable:
        print(f"This cannot be read as an export: {unreadable}")
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
