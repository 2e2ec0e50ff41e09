"""What README.txt of an export says: every column of every file, and what is hashed."""

from __future__ import annotations

from collections.abc import Iterable

from ledger.periods import exported as closings

COLUMNS: dict[str, tuple[tuple[str, str], ...]] = {
    "accounts": (
        ("code", "what the other files call the account: its kind and its name, or the code of its vessel"),
        ("kind", "vessel, stock (bottled), source, removal, loss, difference or water"),
        ("name", "as shown on pages and prints"),
        ("stage", "line of the month's account that the vessel or stock belongs to"),
        ("floor_zero", "1 if its book may never be below 0 (casks, bottles), else 0"),
        ("bottle_pure_ul", "bottled stock: pure alcohol in one bottle, microlitres"),
    ),
    "movements": (
        ("number", "place in the chain, from 1 without gaps"),
        ("kind", "operation, correction (exact opposite of another) or restatement (of what a gauge found)"),
        ("operation", "what was done"),
        ("happened_at", "when it happened as the books carry it, UTC to the microsecond"),
        ("true_at", "when it truly happened, where that lay in a closed period"),
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
        ("judged_against", "what its difference is judged against, in words; blank where it leaves none"),
        ("judged_ul", "how much pure alcohol that is, microlitres at 20 °C"),
        ("judged_parts", "the gauges that add up to it (another record's as name@record), with their signs, as JSON"),
        ("previous_seal", "seal of the movement before; 64 noughts before the first"),
        ("seal", "seal of this movement"),
    ),
    "legs": (
        ("number", "movement"),
        ("line", "line of the movement, from 1"),
        ("position", "place among everything of the same moment; below nought where a closed period is carried there"),
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
        ("rate_pence_hundredths", "rate, hundredths of a penny for each litre of pure alcohol; empty: not known then"),
        ("pence", "duty, pence; empty: not known when it was posted"),
        ("source", "source of the rate"),
    ),
    "balances": (
        ("code", "account"),
        ("pure_ul", "sum of its legs, microlitres"),
        ("mass_g", "sum of its legs, grams"),
    ),
    **closings.COLUMNS,
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
"judged" is judged_against, judged_ul and judged_parts.
"accounts" says what each account named in the movement is: code, kind, name, stage, key of its vessel, whether it may
not be below 0, pure alcohol in one bottle; it is sorted. "record_digest" is that of the version of the record
which was posted: a digest over all that was typed on it, and over the version before.

To check all of it:      python verify_export.py FOLDER
To check a printed seal: look for it in movements.jsonl, or give it as a second argument.
"""


def readme(movements: int, last_seal: str, said: Iterable[str]) -> str:
    """The page of text; `said` is what other rooms say of the files they add."""
    parts = [
        "Ledger as exported",
        "==================",
        f"{movements} movements. Seal of the last: {last_seal}",
        "",
        "Tables are comma-separated, UTF-8, with a line of names; an empty field means that there is none.",
        "A text that a spreadsheet would take for a formula has an apostrophe before it here: a text that begins",
        "with = + - @, a wide form of these, a tab or a line break, and is no number. The .jsonl files are as written.",
        "",
        "Account codes and sign-on names stand here as the seals cover them.",
        "",
        HASHED,
        closings.HASHED,
        *said,
    ]
    for name, columns in COLUMNS.items():
        parts += [f"{name}.csv", "-" * (len(name) + 4), *(f"{column:24}{what}" for column, what in columns), ""]
    return "\n".join(parts)
