"""Botanicals that were steeped before a charge of the third still: their names, and how much of them is the charge's.

A recipe asks for grams for each litre of pure alcohol (LPA). So what is the charge's of a maceration is what was
steeped for each LPA of its spirit, times the LPA of the charge, whether all of the spirit was charged or a part.
"""

from __future__ import annotations

import json

from batches.sheets.register import sheet_of
from batches.sheets.typed.completed import Completed
from batches.sheets.typed.read_sheet import read_sheet
from batches.sheets.typed.values import Ungaugeable
from batches.standing import version_in_books


def botanicals_steeped(written: Completed) -> list[str]:
    """The names of the botanicals of the maceration that is named; none without one."""
    steeped = _steeped(written)
    return [line.text("botanical") for line in steeped.rows if line.has("botanical")] if steeped else []


def kilograms_steeped(written: Completed, *, lpa: float) -> dict[str, float]:
    """Kilograms of each steeped botanical that are those of a charge of so many LPA, by its name in small letters;
    nothing where nothing was steeped, or what it was steeped in was not gauged.
    """
    steeped = _steeped(written)
    if steeped is None:
        return {}
    try:
        there = steeped.quantity("before").lpa
    except Ungaugeable:
        return {}
    found: dict[str, float] = {}
    for line in steeped.rows if there > 0 else ():
        if line.has("botanical") and line.has("botanical_kg"):
            name = line.text("botanical").casefold()
            found[name] = found.get(name, 0.0) + line.real("botanical_kg") * lpa / there
    return found


def _steeped(written: Completed) -> Completed | None:
    """The maceration that is named, as the books hold it."""
    if not written.has("maceration"):
        return None
    record = written.record("maceration")
    version = version_in_books(record)
    typed, lines = json.loads(version.values), json.loads(version.rows)
    return read_sheet(sheet_of(record.kind), typed, lines, site=written.site, number=record.number).completed
