"""What each record says of a cask, in order of time: read from the versions that stand, in as few queries as can be.

A record that was made void says nothing. Two records of one minute stand in the order in which they were written.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from django.db.models import OuterRef, Subquery

from batches.models import Mention, Record, State, Version
from batches.sheets.register import all_sheets, sheet_of
from batches.sheets.sheet import OfCasks
from batches.standing import version_in_books
from distillery.plant.models import place_said


@dataclass(frozen=True, slots=True)
class Said:
    """What one record says of one cask: the fields of its line and of the sheet, as typed, by name."""

    record: Record
    of: OfCasks
    typed: Mapping[str, str]

    @property
    def at(self) -> datetime:
        """When it happened."""
        return self.record.happened_from

    def text(self, name: str) -> str:
        """What is typed in a field; blank where the sheet has no such field."""
        return self.typed.get(name, "").strip() if name else ""

    @property
    def place(self) -> tuple[str, str, str] | None:
        """Warehouse, row and tier from then on; None where it says nothing of them."""
        warehouse = self.text(self.of.warehouse)
        return (warehouse, self.text(self.of.row), self.text(self.of.tier)) if warehouse else None

    @property
    def place_said(self) -> str:
        """The place in words; blank where nothing is said of it."""
        return place_said(*self.place) if self.place else ""

    @property
    def owner(self) -> str:
        """Whose it is from then on; blank where nothing is said of it."""
        return self.text(self.of.owner)

    @property
    def seen(self) -> str:
        """What was seen of it; blank where nothing is said of it."""
        return self.text(self.of.seen)

    @property
    def leaks(self) -> bool:
        """True where it was seen to leak."""
        return self.seen in self.of.leaks


def declared() -> dict[str, OfCasks]:
    """By kind of record: what sheets say something of casks."""
    return {sheet.kind: sheet.of_casks for sheet in all_sheets() if sheet.of_casks is not None}


def said_of(codes: Iterable[str]) -> dict[str, list[Said]]:
    """By number of each of these casks, what the records say of it, oldest first."""
    kinds = declared()
    named: dict[int, set[str]] = defaultdict(set)
    wanted = set(codes)
    mentions = Mention.objects.filter(what=Mention.What.VESSEL, code__in=wanted, record__kind__in=kinds)
    for key, code, field, kind in mentions.values_list("record_id", "code", "field", "record__kind"):
        if field == kinds[kind].cask:
            named[key].add(code)
    found: dict[str, list[Said]] = {code: [] for code in wanted}
    for record, values, rows in _as_they_stand(named):
        of = kinds[record.kind]
        for code in named[record.pk]:
            line = next((one for one in rows if names(one.get(of.cask, ""), code)), {})
            found[code].append(Said(record, of, {**values, **line}))
    for lines in found.values():
        lines.sort(key=lambda one: (one.at, one.record.pk))
    return found


def names(typed: str, code: str) -> bool:
    """True where what is typed means the cask of that number, whose noughts and capitals may be left out."""
    return _bare(typed) == _bare(code)


def _bare(text: str) -> str:
    parts = "".join(one if one.isalnum() else " " for one in text.casefold()).split()
    return " ".join(part.lstrip("0") or "0" if part.isdigit() else part for part in parts)


def _as_they_stand(records: Iterable[int]) -> list[tuple[Record, dict[str, str], list[dict[str, str]]]]:
    """Records that are not void with what is typed on the version of each that the books hold."""
    newest = Version.objects.filter(record=OuterRef("pk")).order_by("-serial").values("pk")[:1]
    kept = list(
        Record.objects.filter(pk__in=list(records)).exclude(state=State.VOID).annotate(version=Subquery(newest))
    )
    versions = Version.objects.in_bulk([one.version for one in kept])
    found: list[tuple[Record, dict[str, str], list[dict[str, str]]]] = []
    for record in kept:
        waits = record.state == State.WAITING
        version = version_in_books(record) if waits else versions[record.version]
        found.append((record, json.loads(version.values), json.loads(version.rows)))
    return found


def title_of(said: Said) -> str:
    """What kind of record it is."""
    return sheet_of(said.record.kind).title
