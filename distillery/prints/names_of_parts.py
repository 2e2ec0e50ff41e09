"""What the parts of a printed document are called, where somebody is told which of them are other."""

from __future__ import annotations

from typing import Final

from distillery.printing.noting import SECTION

# The part that says which version it is tells nothing of what is other in it.
VERSION: Final = "version"
# Parts by the names of fields that say too little by themselves.
WORDS: Final = {
    "rows": "its lines",
    "total": "the total",
    "columns": "the heads of its columns",
    "site": "what is said of the site",
    "subtitle": "the line under its title",
    "foots": "whether it adds up",
    "known": "how its figures are known",
    "earlier": "the months before it",
    "carried": "what it bears for closed months",
    "said": "what was said of it",
    "run": "what was measured, and its balance",
    "anew": "what is worked out of it",
    "done": "what was done",
    "not_seen": "what could not be seen",
    "pure_ul": "pure alcohol",
    "litres20_ul": "litres at 20 °C",
    "percent20": "strength at 20 °C",
    "two_u_ul": "two standard uncertainties",
    "within_count": "differences that no enquiry is about",
    "within_missing_ul": "differences that no enquiry is about",
    "within_extra_ul": "differences that no enquiry is about",
}
# Units that names of fields end in; a person is told what, not in which unit it is kept.
UNITS: Final = ("_ul", "_pence", "_g")


def in_words(name: str) -> str:
    """The name of a part of plain data, for a person."""
    if name.startswith(SECTION):
        return name.removeprefix(SECTION)
    bare = next((name.removesuffix(unit) for unit in UNITS if name.endswith(unit)), name)
    return WORDS.get(name, bare.replace("_", " "))
