"""Below the rows of a sheet, what they come to together: what each vessel gave or took, their sum, and what is usual.

Litres of pure alcohol and litres at 20 °C. What is usual is what the last runs of the same vessel came to.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from batches.models import Mention, Record, State
from batches.pages.writing.forms import EntryForm
from batches.pages.writing.grid.heads import VesselHeads
from batches.pages.writing.grid.worked_out import Moved, Pair, pairs_of
from batches.sheets.sheet import Role, Sheet
from distillery import figures
from ledger.models import Gauge

# So many runs are looked back on, and fewer than the least say nothing of what is usual.
LOOKED_BACK_ON: Final = 12
LEAST: Final = 5
NOT_YET: Final = "…"


@dataclass(frozen=True, slots=True)
class Part:
    """One figure of the line: its label, the sign before it, and whether it is a sum."""

    label: str
    text: str
    operator: str = ""
    is_sum: bool = False


@dataclass(slots=True)
class SumLine:
    """What one moment of a sheet comes to."""

    label: str
    parts: list[Part] = field(default_factory=list)


def comes_to(entry: EntryForm, heads: VesselHeads, number: str = "") -> list[SumLine]:
    """One line for each moment on the page in which a vessel is gauged before and after."""
    sheet = entry.sheet
    pairs = [one for one in pairs_of(sheet, lambda name: bool(entry.stands(name))) if entry.has_moment(one.moment)]
    moments = list(dict.fromkeys(one.moment.name for one in pairs))
    found = []
    for name in moments:
        of_moment = [one for one in pairs if one.moment.name == name]
        moved = {one.pair: one for one in entry.moved if one.pair in of_moment}
        casks = _casks(entry) if sheet.rows_belong_to(of_moment[0].moment) else None
        line = SumLine(of_moment[0].moment.label, _parts(sheet, of_moment, moved, casks, heads, entry))
        if line.parts and of_moment[0].moment.post is not None:
            line.parts += _usual(entry, of_moment, number)
        found.append(line)
    return [one for one in found if one.parts]


def _casks(entry: EntryForm) -> Moved | None:
    """What the lines hold together, where they are gauged: (taken) microlitres and litres."""
    quantities = [came.quantity for line in entry.came_of_line.values() for came in line.values() if came.quantity]
    rows = entry.sheet.rows
    if rows is None or not rows.gauges:
        return None
    pair = Pair(rows.heading, "", "", entry.sheet.moments[0])
    # A cask that is gauged before what is done with it gives what it holds, any other takes it.
    sign = 1 if rows.gauges[0].role == Role.BEFORE else -1
    return Moved(
        pair, "", sign * sum(one.pure_ul for one in quantities), sign * sum(one.litres20 for one in quantities)
    )


def _parts(
    sheet: Sheet,
    pairs: Sequence[Pair],
    moved: Mapping[Pair, Moved],
    casks: Moved | None,
    heads: VesselHeads,
    entry: EntryForm,
) -> list[Part]:
    def name(pair: Pair) -> str:
        return heads.name(entry.stands(pair.vessel)) or sheet.field(pair.vessel).label

    known = [moved[pair] for pair in pairs if pair in moved]
    if not known and not (casks and casks.pure_ul):
        return []
    if sheet.works_contents:
        return [
            Part(f"{name(pair)}: difference", figures.difference(moved[pair].pure_ul))
            for pair in pairs
            if pair in moved
        ]
    taken = [*known, *([casks] if casks and casks.pure_ul else [])]
    gave, took = [one for one in taken if one.pure_ul >= 0], [one for one in taken if one.pure_ul < 0]
    each = [
        Part(
            f"{one.pair.vessel if one is casks else name(one.pair)} {'gave' if one.pure_ul >= 0 else 'took'}",
            figures.lpa(abs(one.pure_ul)),
            "+" if place and (one.pure_ul >= 0) == (taken[0].pure_ul >= 0) else "−" if place else "",
        )
        for place, one in enumerate([*gave, *took])
    ]
    missing = [Part(name(pair), NOT_YET) for pair in pairs if pair not in moved]
    if missing:
        return [*each, *missing]
    pure, litres = sum(one.pure_ul for one in taken), sum(one.litres20 for one in taken)
    if gave and took:
        return [*each, Part("Difference, LPA", figures.difference(pure), "=", is_sum=True)]
    label = pairs[0].moment.label if gave else "Received"
    strength = figures.percent(pure / litres / 10_000, 2) if litres else NOT_YET
    return [
        *(each if len(each) > 1 else []),
        Part(f"{label}, LPA", figures.lpa(abs(pure)), "=" if len(each) > 1 else "", is_sum=True),
        Part("Litres at 20 °C", figures.litres(abs(litres))),
        Part("Strength, % vol", strength),
    ]


def _usual(entry: EntryForm, pairs: Sequence[Pair], number: str) -> list[Part]:
    """From lowest to highest of what the last runs of the same still came to; nothing where they are few."""
    sheet = entry.sheet
    code = entry.stands(sheet.occupies) if sheet.occupies else ""
    if not code:
        return []
    numbers = list(
        Record.objects.filter(
            kind=sheet.kind,
            state=State.COMPLETE,
            mentions__field=sheet.occupies,
            mentions__what=Mention.What.VESSEL,
            mentions__code=code,
        )
        .exclude(number=number)
        .order_by("-happened_from", "-pk")
        .values_list("number", flat=True)[:LOOKED_BACK_ON]
    )
    names = {name for pair in pairs for name in (pair.before, pair.after)}
    shared = {name: same for name in names if (same := sheet.gauge(name).same_as) and not sheet.gauge(name).same_of}
    held: dict[str, dict[str, int]] = {}
    for of, name, pure_ul in (
        Gauge.objects.standing()
        .filter(
            movement__record_kind=sheet.kind, movement__record_number__in=numbers, name__in={*names, *shared.values()}
        )
        .values_list("movement__record_number", "name", "pure_ul")
    ):
        held.setdefault(of, {})[name] = pure_ul
    for one in held.values():
        # A gauge that was another one too stands in the books once.
        one |= {name: one[same] for name, same in shared.items() if name not in one and same in one}
    sums = sorted(
        abs(sum(one[pair.before] - one[pair.after] for pair in pairs)) for one in held.values() if names <= one.keys()
    )
    if len(sums) < LEAST:
        return []
    return [Part(f"Last {len(sums)}, LPA", f"{figures.lpa(sums[0], 0)} to {figures.lpa(sums[-1], 0)}", is_sum=True)]
