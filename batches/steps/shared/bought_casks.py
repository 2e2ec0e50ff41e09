"""A cask is a piece of stock until it has a number, then a vessel: it leaves its lot once, at the fill that says so."""

from __future__ import annotations

import json

from batches.models import Mention
from batches.sheets.sheet import MaterialKind, Problem
from batches.sheets.typed.completed import Completed
from batches.stores.kinds import Act
from batches.stores.models import StockEntry
from distillery import figures
from distillery.plant.models import Vessel

LOT = "cask_lot"


def pieces_already(written: Completed) -> list[Problem]:
    """A line that takes a cask out of a lot although an earlier record took that very cask out of one."""
    problems = []
    for row, line in enumerate(written.rows):
        if not line.has(LOT):
            continue
        cask = line.vessel("cask")
        taken = _taken(written, cask)
        if taken is not None:
            since = f"{taken.version.record.number} ({figures.moment(taken.happened_at)})"
            said = f"Cask {cask.code} left lot {taken.lot.code} with {since} and is a vessel since; leave this blank."
            problems.append(Problem(LOT, row, said))
    return problems


def _taken(written: Completed, cask: Vessel) -> StockEntry | None:
    """The entry by which a cask left its lot, by another record than this one; None where it never did."""
    naming = Mention.objects.filter(what=Mention.What.VESSEL, code=cask.code).values("record")
    entries = StockEntry.objects.standing().filter(
        act=Act.ISSUED, lot__kind=MaterialKind.CASK, version__record__in=naming, row__isnull=False
    )
    for entry in entries.exclude(version__record__number=written.number).select_related("lot", "version__record"):
        line = json.loads(entry.version.rows)[entry.row or 0]
        there = written.site.vessel_meant(str(line.get("cask", "")))
        if there is not None and there.pk == cask.pk:
            return entry
    return None
