"""Two people on one record: what was saved meanwhile, shown beside what was typed, with a way to take either.

The boxes of the sheet always hold what will be saved. The page carries the version it was opened with and the writer's
own words of every box that differs, so that both stay in sight until the writer has chosen.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.http import QueryDict

from batches.models import Version
from batches.pages.records.shown import RecordAsWritten
from batches.pages.writing.forms import EntryForm
from batches.records.merging import Difference, Flat, Typed, differences, flat, together, unflat
from batches.records.versions import typed_of
from distillery import figures

SERIAL = "version"
OPENED = "opened"
YOURS = "yours:"
TAKE = "take"
FROM_YOURS, FROM_THEIRS = "yours", "theirs"


@dataclass(frozen=True, slots=True)
class Beside:
    """The part of the page that shows both. `opened` is the version that both had before them."""

    opened: int
    writer: str
    written: str
    differences: Sequence[Difference]

    @property
    def sentence(self) -> str:
        """What has happened, for the top of the page."""
        return (
            f"{self.writer} wrote on this record at {self.written}, after you opened the page. Nothing of yours was "
            "saved, and nothing is lost: look at both below, choose what is to stand, and save again."
        )


@dataclass(frozen=True, slots=True)
class Both:
    """What the boxes hold after putting both together, and the part that shows what differs."""

    shown: Beside
    values: Typed
    rows: list[Typed]
    adds_nothing: bool


def seen_by(posted: QueryDict | None, written: RecordAsWritten) -> int | None:
    """The version that the page was opened with: what it says itself, else what stands; None where it says nothing."""
    if posted is None:
        return written.latest.serial
    said = posted.get(SERIAL, "")
    return int(said) if said.isascii() and said.isdigit() else None


def put_together(written: RecordAsWritten, entry: EntryForm, seen: int) -> Both:
    """What was typed on a page opened with version `seen`, together with what stands on the record now."""
    sheet = written.sheet
    opened, theirs = _flat_version(written, seen), _flat_version(written, written.latest.serial)
    yours = _typed_over(opened, entry)
    both = together(opened, yours, theirs)
    values, rows = unflat(both)
    shown = _beside(written, seen, differences(sheet, opened, yours, theirs))
    return Both(shown, values, rows, adds_nothing=both == theirs)


def still_beside(written: RecordAsWritten, posted: QueryDict) -> Beside | None:
    """The part that shows both, on a page that was sent with it."""
    said = posted.get(OPENED, "")
    if not (said.isascii() and said.isdigit()):
        return None
    opened, theirs = _flat_version(written, int(said)), _flat_version(written, written.latest.serial)
    yours = {name.removeprefix(YOURS): str(text) for name, text in posted.items() if name.startswith(YOURS)}
    kept = [one for one in differences(written.sheet, opened, yours, theirs) if one.key in yours]
    return _beside(written, int(said), kept)


def with_taken(written: RecordAsWritten, entry: EntryForm, beside: Beside, taken: str) -> tuple[Typed, list[Typed]]:
    """What the boxes hold once one of them is given the writer's words or the other's: 'theirs:spirit_after_dip_mm'."""
    whose, _, key = taken.partition(":")
    boxes = _typed_over(_flat_version(written, written.latest.serial), entry)
    for one in beside.differences:
        if one.key == key and whose in (FROM_YOURS, FROM_THEIRS):
            boxes[key] = one.yours if whose == FROM_YOURS else one.theirs
    return unflat({name: text for name, text in boxes.items() if text})


def _typed_over(stands: Flat, entry: EntryForm) -> Flat:
    """What the page says, on top of what stands in boxes that are not on the page."""
    values, rows = unflat(stands)
    return flat(entry.sheet, {**values, **entry.values}, entry.rows if entry.has_lines else rows)


def _flat_version(written: RecordAsWritten, serial: int) -> Flat:
    version = _version(written, serial)
    values, rows = typed_of(version) if version is not None else ({}, [])
    return flat(written.sheet, values, rows)


def _version(written: RecordAsWritten, serial: int) -> Version | None:
    return next((one for one in written.versions if one.serial == serial), None)


def _beside(written: RecordAsWritten, opened: int, found: Sequence[Difference]) -> Beside:
    latest = written.latest
    return Beside(opened, latest.person.shown_name, figures.moment(latest.written_at), found)
