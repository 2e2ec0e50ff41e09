"""What is other between two versions of a printed document, figure by figure.

Both are plain data, as their digests are taken over (`distillery.printing.digest.plain_data`): lists, names and
figures. Lines are matched by what names them, else by their order; figures are written in the unit that their name or
the head of their column says, whole microlitres as litres.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from difflib import SequenceMatcher
from itertools import zip_longest
from typing import Any, Final

from distillery import figures
from distillery.printing.noting import SECTION, Changed
from distillery.prints.names_of_parts import VERSION, in_words

NOT_THERE: Final = "not there"
BLANK: Final = "blank"
# Fields of which the first that is there names a line among others.
NAMES: Final = ("label", "heading", "name", "number", "cause", "what", "mark", "vessel", "cask")
LONGEST: Final = 140
# The version is at the head of the page, and what the one page of a run shows is in the parts of its record.
SAID_ELSEWHERE: Final = (VERSION, "run")
A_MOMENT: Final = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d.*[+-]\d\d:\d\d")


def differing(then: object, now: object) -> Iterator[Changed]:
    """Every figure and word that is other, in the order of the document."""
    if not isinstance(then, Mapping) or not isinstance(now, Mapping):
        return
    if _is_table(then) and _is_table(now):
        yield from _tables(in_words("rows"), "", then, now)
        return
    for name in dict.fromkeys((*then, *now)):
        if name not in SAID_ELSEWHERE and then.get(name) != now.get(name):
            yield from _walk(in_words(name), "", name, then.get(name), now.get(name))


def _walk(part: str, what: str, name: str, old: Any, new: Any) -> Iterator[Changed]:
    """What is other between two values that stand in the same place; `name` is that of their field."""
    if old == new:
        return
    if _is_table(old) and _is_table(new):
        yield from _tables(part, what, old, new)
    elif isinstance(old, Mapping) and isinstance(new, Mapping):
        yield from _fields(part, what, old, new)
    elif isinstance(old, list) and isinstance(new, list):
        yield from _lines(part, what, name, old, new)
    elif isinstance(old, list | Mapping) or isinstance(new, list | Mapping):
        yield Changed(part, what, _all_of(name, old), _all_of(name, new))
    else:
        yield Changed(part, what, _written(name, old), _written(name, new))


def _fields(part: str, what: str, old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterator[Changed]:
    if "value" in old and "label" in old:
        unit = str(new.get("unit") or "")
        was, now = (f"{_written('', one.get('value'))} {one.get('unit') or ''}".strip() for one in (old, new))
        yield Changed(part, _joined(what, str(new.get("label"))), was, now if unit or now else BLANK)
        return
    for name in dict.fromkeys((*old, *new)):
        if name == "heading":
            continue
        said = "" if name in ("rows", "table", "cells") else in_words(name)
        yield from _walk(part, _joined(what, said), name, old.get(name), new.get(name))


def _lines(part: str, what: str, name: str, old: list[Any], new: list[Any]) -> Iterator[Changed]:
    named_old, named_new = _by_name(old), _by_name(new)
    if named_old is None or named_new is None:
        for was, now in _paired(old, new):
            yield from _line(part, _joined(what, _title(now if was is not None else None)), name, was, now)
        return
    for key in dict.fromkeys((*named_old, *named_new)):
        was, now = named_old.get(key), named_new.get(key)
        if name == "sections" and part == in_words(name):
            yield from _walk(in_words(f"{SECTION}{key}"), "", name, was, now)
        elif isinstance(was, Mapping) and "value" in was and isinstance(now, Mapping):
            yield from _walk(part, what, name, was, now)
        else:
            yield from _line(part, _joined(what, key), name, was, now)


def _line(part: str, what: str, name: str, was: Any, now: Any) -> Iterator[Changed]:
    if was is None or now is None:
        yield Changed(part, what, _all_of(name, was), _all_of(name, now))
    else:
        yield from _walk(part, what, name, was, now)


def _by_name(lines: list[Any]) -> dict[str, Any] | None:
    """Lines by what names each; None where something has no name, or two have the same."""
    named: dict[str, Any] = {}
    for line in lines:
        name = next((str(line[key]) for key in NAMES if line.get(key)), "") if isinstance(line, Mapping) else ""
        if not name or name in named:
            return None
        named[name] = line
    return named


def _title(line: Any) -> str:
    """What a line without a name of its own is told by: its first words."""
    words = [value for value in line.values() if isinstance(value, str) and value] if isinstance(line, Mapping) else []
    return ", ".join(_written("", word) for word in words[:3])


def _is_table(value: Any) -> bool:
    return isinstance(value, Mapping) and isinstance(value.get("columns"), list) and isinstance(value.get("rows"), list)


def _tables(part: str, what: str, old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterator[Changed]:
    heads = [(str(one.get("label", "")), str(one.get("unit", ""))) for one in new["columns"]]
    if heads != [(str(one.get("label", "")), str(one.get("unit", ""))) for one in old["columns"]]:
        yield Changed(part, _joined(what, in_words("columns")), str(len(old["columns"])), str(len(heads)))
        return
    rows_old, rows_new = ([_cells(row, heads) for row in one["rows"]] for one in (old, new))
    total = (
        [(_cells(old["total"], heads), _cells(new["total"], heads))] if old.get("total") and new.get("total") else []
    )
    first = [row[0] for row in rows_new]
    for was, now in (*_paired(rows_old, rows_new), *total):
        if was is None or now is None:
            yield Changed(part, what, _row(was), _row(now))
            continue
        row = now[0] if first.count(now[0]) < 2 else ", ".join(now[:2])
        for (label, unit), one, other in zip(heads, was, now, strict=False):
            if one != other:
                head = f"{label}, {unit}" if unit else label
                yield Changed(part, _joined(what, f"{row}: {head}"), one or BLANK, other or BLANK)


def _cells(row: Any, heads: Sequence[tuple[str, str]]) -> list[str]:
    """The cells of a row as they are written; of a struck one what stands."""
    cells = row.get("cells", []) if isinstance(row, Mapping) else row
    return [_cell(cell, unit) for cell, (_, unit) in zip(cells, heads, strict=False)]


def _cell(cell: Any, unit: str) -> str:
    if isinstance(cell, Mapping):
        cell = cell.get("text", cell.get("new"))
    if isinstance(cell, int) and not isinstance(cell, bool):
        return _in_unit(cell, unit)
    return "" if cell is None else str(cell)


def _in_unit(value: int, unit: str) -> str:
    """A whole number of a column: what is kept in microlitres, grams or pence stands under such a unit."""
    if unit == "LPA":
        return figures.lpa(value)
    if unit.startswith("L at") or unit == "L":
        return figures.litres_from_ul(value)
    if unit == "kg":
        return figures.kilograms(value)
    return figures.pounds(value) if unit == "£" else figures.count(value)


def _paired(old: list[Any], new: list[Any]) -> Iterator[tuple[Any, Any]]:
    """Lines of two lists beside each other; what stands in one of them alone beside None."""
    keys_old, keys_new = ([json.dumps(one, sort_keys=True) for one in lines] for lines in (old, new))
    for tag, a, b, c, d in SequenceMatcher(None, keys_old, keys_new, autojunk=False).get_opcodes():
        if tag != "equal":
            yield from zip_longest(old[a:b], new[c:d])


def _written(name: str, value: Any) -> str:
    """One value by the name of its field."""
    if value is None or value == "":
        return BLANK
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int) and "difference" in name and name.endswith("_ul"):
        return f"{figures.difference(value)} LPA"
    if isinstance(value, int) and name.endswith("_ul"):
        return f"{figures.lpa(value)} L" if name.startswith(("litres", "bulk")) else f"{figures.lpa(value)} LPA"
    if isinstance(value, int) and name.endswith("_g"):
        return f"{figures.kilograms(value)} kg"
    if isinstance(value, int) and name.endswith("_pence"):
        return f"£{figures.pounds(value)}"
    if isinstance(value, float):
        return f"{figures.percent(100 * value, 2)} %" if name == "share" else f"{value:.6g}"
    if isinstance(value, str) and A_MOMENT.fullmatch(value):
        return figures.moment(datetime.fromisoformat(value), year=True)
    return _short(str(value))


def _all_of(name: str, value: Any) -> str:
    """All that stands in something that was not there before, or is not any more, in one line."""
    if value is None:
        return NOT_THERE
    return _short(", ".join(_leaves(name, value))) or BLANK


def _row(cells: Sequence[str] | None) -> str:
    return NOT_THERE if cells is None else _short(", ".join(cell for cell in cells if cell))


def _leaves(name: str, value: Any) -> Iterator[str]:
    if isinstance(value, Mapping):
        for key, one in value.items():
            yield from _leaves(key, one)
    elif isinstance(value, list):
        for one in value:
            yield from _leaves(name, one)
    elif value is not None and value != "" and not isinstance(value, bool):
        yield _written(name, value)


def _joined(what: str, more: str) -> str:
    return f"{what}: {more}" if what and more else what or more


def _short(text: str) -> str:
    return text if len(text) <= LONGEST else f"{text[:LONGEST].rstrip()} …"
