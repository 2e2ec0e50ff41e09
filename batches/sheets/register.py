"""The sheets of all steps by their kinds, for the rooms below the steps, which may not import them.

`batches.steps` puts in every sheet that it finds, once, when the program starts.
"""

from __future__ import annotations

from collections.abc import Iterable

from batches.sheets.sheet import Field, Moment, Sheet

_SHEETS: dict[str, Sheet] = {}
_PLACES: dict[str, int] = {}


class NoSuchStep(LookupError):
    """There is no step of that kind."""


def register(sheets: Iterable[Sheet]) -> tuple[Sheet, ...]:
    """Takes all sheets in, and returns them in the order of the process.

    Raises ValueError where two steps share a name, or one stands after a step that there is not.
    """
    ordered = in_order(sheets)
    for place, sheet in enumerate(ordered):
        _SHEETS[sheet.kind] = sheet
        _PLACES[sheet.kind] = place
    return ordered


def in_order(sheets: Iterable[Sheet]) -> tuple[Sheet, ...]:
    """Sheets in the order of the process: each stands behind the one it names as `after`. Where several name the same
    one, those that fewer others follow come first.
    """
    sheets = list(sheets)
    kinds = [sheet.kind for sheet in sheets]
    if len(set(kinds)) != len(kinds):
        raise ValueError(f"Two steps share a kind: {', '.join(sorted(kinds))}.")
    # Two sheets may name the same one. That with fewer sheets behind it stands first, so a step can be put in between
    # two others.
    waiting = sorted(sheets, key=lambda sheet: (len(_behind(sheet.kind, sheets)), sheet.kind))
    ordered: list[Sheet] = []
    there = {""}
    while waiting:
        following = next((sheet for sheet in waiting if sheet.after in there), None)
        if following is None:
            raise ValueError(f"{waiting[0].kind} stands after {waiting[0].after}, which is no step before it.")
        waiting.remove(following)
        ordered.append(following)
        there.add(following.kind)
    return tuple(ordered)


def _behind(kind: str, sheets: list[Sheet]) -> set[str]:
    behind: set[str] = set()
    while more := {sheet.kind for sheet in sheets if sheet.after in {kind, *behind}} - behind - {kind}:
        behind |= more
    return behind


def all_sheets() -> tuple[Sheet, ...]:
    """Every sheet in the order of the process."""
    return tuple(_SHEETS.values())


def sheet_of(kind: str) -> Sheet:
    """The sheet of a kind of record. Raises NoSuchStep."""
    try:
        return _SHEETS[kind]
    except KeyError:
        raise NoSuchStep(f"There is no step '{kind}'; there are: {', '.join(_SHEETS)}.") from None


def telling(kind: str, name: str) -> Field:
    """The field that a kind of record tells other steps. Raises KeyError where its sheet does not say so."""
    sheet = sheet_of(kind)
    if name not in sheet.tells:
        raise KeyError(f"{sheet.kind} does not tell other steps its {name}")
    return sheet.field(name)


def order_of(sheet: Sheet, moment: Moment) -> tuple[int, int, int]:
    """Where a moment stands among those written for the same minute: its phase, its step's place, its own place."""
    return moment.phase, _PLACES[sheet.kind], sheet.moments.index(moment)
