"""Hands the whole ledger out as files that anybody can read, add up and check without this program.

Comma-separated tables for people with a spreadsheet, one line of JSON for each movement in exactly the
form that was sealed, the verifier, and a page of text that says what every column is. Whole numbers as
the ledger keeps them: microlitres of pure alcohol at 20 °C, grams, hundredths of a penny.

Written as of the end of the chain at the start, in batches, so that memory does not grow with the ledger
and a movement posted meanwhile is left for the next export.
"""

from __future__ import annotations

import csv
import json
import shutil
from collections import defaultdict
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TextIO

from distillery.people.models import Person
from ledger import sealing
from ledger.chain import links
from ledger.models import Account, Head, Movement

BATCH = 500
VERIFIER = Path(__file__).parent / "standalone" / "verify_export.py"
PARTS = ("legs", "gauges", "measures", "figures", "duties")

COLUMNS: dict[str, tuple[tuple[str, str], ...]] = {
    "accounts": (
        ("code", "what the other files call the account: its kind and its name, or the code of its vessel"),
        ("kind", "vessel, stock (bottled), source, removal, loss, difference or water"),
        ("name", "as shown on pages and prints"),
        ("stage", "line of the month's account that the vessel or stock belongs to"),
        ("floor_zero", "1 if its book may never be below nothing (casks, bottles), else 0"),
        ("bottle_pure_ul", "bottled stock: pure alcohol in one bottle, microlitres"),
    ),
    "movements": (
        ("number", "place in the chain, from 1 without gaps"),
        ("kind", "operation, correction (exact opposite of another) or restatement (of what a gauge found)"),
        ("operation", "what was done"),
        ("happened_at", "when it happened, UTC to the microsecond"),
        ("written_at", "when it was written, UTC to the microsecond"),
        ("period", "month of the account it belongs to, by the site's clock"),
        ("person", "sign-on name of who wrote it"),
        ("second", "sign-on name of the second person, where one was needed"),
        ("record_kind", "kind of the record it came from"),
        ("record_number", "number of that record"),
        ("moment", "which moment of the record it is"),
        ("record_digest", "digest of the record's content"),
        ("reason", "why, where a reason was given"),
        ("corrects", "number of the movement it is the opposite of"),
        ("restates", "the gauge it restates, by the ledger's own number of gauges"),
        ("slot", "place among movements of the same moment"),
        ("previous_seal", "seal of the movement before; 64 noughts before the first"),
        ("seal", "seal of this movement"),
    ),
    "legs": (
        ("number", "movement"),
        ("line", "line of the movement, from 1"),
        ("position", "place among everything of the same moment"),
        ("account", "code of the account"),
        ("other", "code of the account on the other side, where it is one account"),
        ("stage", "line of the month's account that bears it"),
        ("entry", "flow, gauging (found at a gauge), loss or difference"),
        ("happened_at", "when it happened, UTC to the microsecond"),
        ("period", "month of the account"),
        ("pure_ul", "pure alcohol, microlitres at 20 °C, positive into the account"),
        ("mass_g", "mass, grams, positive into the account"),
    ),
    "gauges": (
        ("number", "movement"),
        ("account", "code of the vessel's account"),
        ("name", "which gauge of the record"),
        ("role", "before or after"),
        ("method", "how it was gauged"),
        ("happened_at", "when, UTC to the microsecond"),
        ("position", "place among everything of the same moment"),
        ("pure_ul", "pure alcohol found, microlitres at 20 °C"),
        ("mass_g", "mass found, grams"),
        ("litres20_ul", "bulk found, microlitres at 20 °C"),
        ("percent20_millionths", "strength at 20 °C, millionths of one % vol"),
        ("uncertainty_ul", "standard uncertainty of pure_ul, microlitres"),
        ("book_ul", "pure alcohol the book held just before, microlitres"),
        ("rule", "published basis of the computation"),
        ("raw", "what was read, as typed, as JSON text"),
        ("chain", "each reading with its instrument, uncertainty and weight in the result, as JSON text"),
    ),
    "measures": (
        ("number", "movement"),
        ("line", "place among the lines of the movement"),
        ("giver", "account the flow came from"),
        ("taker", "account the flow went to"),
        ("name", "which flow of the record"),
        ("method", "how it was measured"),
        ("pure_ul", "pure alcohol, microlitres at 20 °C"),
        ("mass_g", "mass, grams"),
        ("litres20_ul", "bulk, microlitres at 20 °C"),
        ("percent20_millionths", "strength at 20 °C, millionths of one % vol"),
        ("uncertainty_ul", "standard uncertainty of pure_ul, microlitres"),
        ("rule", "basis of the computation"),
        ("raw", "what was read, as typed, as JSON text"),
        ("chain", "each reading with its instrument, uncertainty and weight in the result, as JSON text"),
    ),
    "figures": (
        ("number", "movement"),
        ("line", "place among the figures of the movement"),
        ("name", "what the figure is"),
        ("like", "the kind it is compared with"),
        ("beside", "record among whose lines it stands"),
        ("field", "column it hangs on"),
        ("unit", "its unit"),
        ("value_millionths", "the figure, millionths of its unit"),
        ("expected_millionths", "what another figure makes expected, millionths, where there is one"),
        ("spread_millionths", "standard deviation about what is expected, millionths"),
        ("parts", "how far one unit of each reading moves it, as JSON text"),
    ),
    "duties": (
        ("number", "movement"),
        ("removal", "kind of removal"),
        ("tax_type", "tax type code"),
        ("litres20_ul", "bulk, microlitres at 20 °C"),
        ("percent_millionths", "strength, millionths of one % vol"),
        ("pure_ul", "pure alcohol charged, microlitres"),
        ("rate_pence_hundredths", "rate, hundredths of a penny for each litre of pure alcohol"),
        ("pence", "duty, pence"),
        ("source", "source of the rate"),
    ),
    "balances": (
        ("code", "account"),
        ("pure_ul", "sum of its legs, microlitres"),
        ("mass_g", "sum of its legs, grams"),
    ),
}

HASHED = """\
What is hashed
--------------
Every line of movements.jsonl is one JSON object with three members: "previous_seal", "seal" and "content". The seal of
a movement is the SHA-256 digest, written as 64 small hexadecimal figures, of these bytes one after another:

1. the seal of the movement before it (64 characters; for movement 1, sixty-four noughts);
2. one line feed (byte 10);
3. "content" written as JSON on one line: members of every object sorted by name, no spaces, "," and ":" between parts,
   every character beyond ASCII as \\uXXXX. It holds no number with a decimal point.

The lists under "legs", "gauges", "measures", "figures" and "duties" have the columns of the tables of those names
below, without the number of the movement, in the same order. "record" is record_kind, record_number and moment.

To check all of it:      python verify_export.py FOLDER
To check a printed seal: look for it in movements.jsonl, or give it as a second argument.
"""



class FolderNotEmpty(ValueError):
    """The folder for an export holds something already."""


@dataclass(frozen=True, slots=True)
class Exported:
    """What an export wrote."""

    movements: int
    legs: int
    last_seal: str


@dataclass(frozen=True, slots=True)
class Sealed:
    """One movement with all that its seal covers."""

    movement: Movement
    content: dict[str, Any]


def sealed_movements(*, upto: int) -> Iterator[Sealed]:
    """Every movement to this number in the order of the chain; one batch is in memory at a time."""
    people = dict(Person.objects.values_list("pk", "username"))
    accounts = Account.objects.in_bulk()
    for link in links(upto=upto):
        yield Sealed(
            link.movement,
            sealing.content(link.movement, link.legs, link.details, accounts=accounts, people=people),
        )


def export(folder: Path) -> Exported:
    """Writes the whole ledger into a folder that is empty or not there yet. Raises FolderNotEmpty."""
    folder.mkdir(parents=True, exist_ok=True)
    if any(folder.iterdir()):
        raise FolderNotEmpty(f"{folder} is not empty; name a new folder, so that no export is mixed with another.")
    head = Head.objects.get(pk=1)
    movements = legs = 0
    sums: dict[str, list[int]] = defaultdict(lambda: [0, 0])
    with ExitStack() as open_files:
        tables = {name: _table(folder, name, open_files) for name in COLUMNS}
        lines = open_files.enter_context(_text(folder / "movements.jsonl"))
        for sealed in sealed_movements(upto=head.last_number):
            movement, content = sealed.movement, sealed.content
            closed = {"previous_seal": movement.previous_seal, "seal": movement.seal}
            lines.write(json.dumps({**closed, "content": content}, sort_keys=True, separators=(",", ":")) + "\n")
            tables["movements"].writerow(_movement_row(content, closed))
            for part in PARTS:
                tables[part].writerows([content["number"], *row] for row in content[part])
            for leg in content["legs"]:
                sums[leg[2]][0] += leg[8]
                sums[leg[2]][1] += leg[9]
            movements += 1
            legs += len(content["legs"])
        for account in Account.objects.order_by("code").iterator(chunk_size=BATCH):
            tables["accounts"].writerow(_account_row(account))
        tables["balances"].writerows([code, *sums[code]] for code in sorted(sums))
    (folder / "README.txt").write_text(_described(movements, head.last_seal), encoding="utf-8")
    shutil.copyfile(VERIFIER, folder / VERIFIER.name)
    return Exported(movements, legs, head.last_seal)


def _text(path: Path) -> TextIO:
    return path.open("w", encoding="utf-8", newline="")


def _table(folder: Path, name: str, open_files: ExitStack) -> Any:
    writer = csv.writer(open_files.enter_context(_text(folder / f"{name}.csv")))
    writer.writerow(column for column, _ in COLUMNS[name])
    return writer


def _movement_row(content: dict[str, Any], closed: dict[str, str]) -> list[Any]:
    record = dict(zip(("record_kind", "record_number", "moment"), content["record"], strict=True))
    values = {**content, **record, **closed}
    return [values[column] for column, _ in COLUMNS["movements"]]


def _account_row(account: Account) -> list[Any]:
    return [
        account.code, account.kind, account.name, account.stage, int(account.floor_zero), account.bottle_pure_ul,
    ]  # fmt: skip


def _described(movements: int, last_seal: str) -> str:
    parts = [
        "Ledger as exported",
        "==================",
        f"{movements} movements. Seal of the last: {last_seal}",
        "",
        "Tables are comma-separated, UTF-8, with a line of names; an empty field means that there is none.",
        "Account codes and sign-on names stand here as the seals cover them.",
        "",
        HASHED,
    ]
    for name, columns in COLUMNS.items():
        parts += [f"{name}.csv", "-" * (len(name) + 4), *(f"{column:24}{said}" for column, said in columns), ""]
    return "\n".join(parts)
