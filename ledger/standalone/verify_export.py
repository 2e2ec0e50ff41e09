"""Checks an exported ledger without the program that wrote it: python verify_export.py FOLDER [SEAL]

Recomputes every seal from movements.jsonl, sees that the legs of each movement sum to nothing in pure alcohol and in
mass, that the tables say the same as the sealed lines, and that the balances are what the legs add up to. A seal from a
printed page given as second argument is looked for. Needs Python 3.10 or later and nothing else.

Ends with status 0 if everything holds, 1 at the first place that does not, 2 if it cannot be read. What it cannot know:
whether movements were cut off at the end. Compare the last seal with one that was printed or noted elsewhere.
"""

from __future__ import annotations

import csv
import hashlib
import json
import sys
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Any

FIRST_SEAL = "0" * 64
PARTS = ("legs", "gauges", "measures", "figures", "duties")
ACCOUNT, PURE_UL, MASS_G = 2, 8, 9
MOVEMENT_COLUMNS = (
    "number", "kind", "operation", "happened_at", "written_at", "period", "person", "second", "record_kind",
    "record_number", "moment", "record_digest", "reason", "corrects", "restates", "slot", "previous_seal", "seal",
)  # fmt: skip


class Broken(Exception):
    """A place at which the export does not hold."""


def seal_of(previous: str, content: Any) -> str:
    """The digest of the previous seal, a line feed and the content as JSON in its one form."""
    line = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=True, allow_nan=False)
    return hashlib.sha256(f"{previous}\n{line}".encode("ascii")).hexdigest()


def as_text(value: Any) -> str:
    return "" if value is None else str(value)


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


def verify(folder: Path, wanted: str = "") -> str:
    """Reads the whole export and gives one sentence. Raises Broken at the first place that does not hold."""
    csv.field_size_limit(2**31 - 1)
    tables = {name: Table(folder, name) for name in ("movements", *PARTS, "balances")}
    sums: dict[str, list[int]] = defaultdict(lambda: [0, 0])
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
            for column in (PURE_UL, MASS_G):
                if sum(leg[column] for leg in content["legs"]):
                    raise Broken(f"{place}: its legs do not sum to nothing")
            record = dict(zip(("record_kind", "record_number", "moment"), content["record"], strict=True))
            values = {**content, **record, **movement}
            tables["movements"].expect(place, [values[column] for column in MOVEMENT_COLUMNS])
            for part in PARTS:
                for row in content[part]:
                    tables[part].expect(place, [number, *row])
            for leg in content["legs"]:
                sums[leg[ACCOUNT]][0] += leg[PURE_UL]
                sums[leg[ACCOUNT]][1] += leg[MASS_G]
            if wanted and seal.startswith(wanted.lower()):
                found = number
            previous = seal
    for code in sorted(sums):
        tables["balances"].expect(f"balance of {code}", [code, *sums[code]])
    for table in tables.values():
        table.expect_end()
    if wanted and not found:
        raise Broken(f"no movement has a seal that begins with {wanted}")
    at = f" {wanted} is the seal of movement {found}." if wanted else ""
    return f"{number} movements, every seal holds, every balance adds up. Last seal {previous}.{at}"


def main(arguments: list[str]) -> int:
    if len(arguments) not in (1, 2):
        print(__doc__)
        return 2
    try:
        print(verify(Path(arguments[0]), *arguments[1:]))
    except Broken as broken:
        print(f"BROKEN: {broken}")
        return 1
    except (OSError, ValueError, LookupError, TypeError, AttributeError) as unreadable:
        print(f"This cannot be read as an export: {unreadable}")
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
