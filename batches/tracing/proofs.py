"""What is on record of the spirit that a record was made from: followed back, vessel by vessel, to who says something.

Each record that a trace meets is asked for what its sheet proves (`Sheet.proves`); what it does not say, those before
it are asked. Shares are of the pure alcohol, with contents taken as well mixed; what nobody speaks for is left out, and
so is not proven.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from batches.models import Link, Record, State, Version
from batches.sheets.proofs import Proof
from batches.sheets.register import sheet_of
from batches.sheets.sheet import Kind, Sheet
from batches.sheets.typed.moments import Unreadable
from batches.sheets.typed.parsing import read_number
from batches.standing import version_in_books
from batches.tracing.links import UNKNOWN, contents_of
from distillery.process.product_names import Evidence
from ledger.models import Account, Figure

Known = dict[str, list[Evidence]]
MILLIONTHS = 1_000_000
# A mix of a mix of a mix never quite ends; what is left of it by then is not looked at.
MOST_STEPS = 12
LEAST_SHARE = 0.0005


def known_of_record(number: str, measures: Iterable[str]) -> Known:
    """What is known of the spirit that a record took, by measure; nothing for one that took none yet."""
    record = Record.objects.filter(number=number).exclude(state=State.VOID).first()
    return _Walk(frozenset(measures)).before(record.pk, MOST_STEPS) if record is not None else {}


def known_in_vessel(vessel: int, measures: Iterable[str]) -> Known:
    """What is known of the spirit that a vessel, by its key, holds now."""
    account = Account.objects.filter(vessel=vessel).first()
    held = contents_of(account.pk) if account is not None else {}
    return _Walk(frozenset(measures)).of_mix(held, MOST_STEPS)


class _Walk:
    """Asks each record once."""

    def __init__(self, measures: frozenset[str]) -> None:
        self._measures = measures
        self._asked: dict[int, Known] = {}

    def before(self, record: int, steps: int) -> Known:
        """What is known of all that a record took."""
        took: dict[int, int] = {}
        links = Link.objects.filter(taker=record, account__isnull=False)
        for giver, pure_ul in links.values_list("giver_id", "pure_ul"):
            took[giver] = took.get(giver, 0) + pure_ul
        return self.of_mix(took, steps)

    def of_mix(self, givers: Mapping[int, int], steps: int) -> Known:
        """What is known of a mix of what records gave, microlitres by the key of each."""
        whole = sum(givers.values())
        found: Known = {}
        for giver, pure_ul in givers.items():
            share = pure_ul / whole if whole else 0.0
            if giver == UNKNOWN or share < LEAST_SHARE:
                continue
            for measure, said in self._of(giver, steps).items():
                found.setdefault(measure, []).extend(replace(one, share=one.share * share) for one in said)
        return found

    def _of(self, key: int, steps: int) -> Known:
        if key in self._asked:
            return self._asked[key]
        # Spirit that goes round meets itself: there it says nothing more.
        self._asked[key] = {}
        record = Record.objects.filter(pk=key).exclude(state=State.VOID).first()
        if record is None or steps <= 0:
            return {}
        sheet = sheet_of(record.kind)
        own = _own(record, sheet, self._measures)
        left = [one for one in self._measures if one not in own or _of_measure(sheet, one).at_its_highest]
        # What makes new spirit of wash says what it is; nothing before it does.
        goes_on = bool(left) and not _is_origin(sheet)
        earlier = self.before(key, steps - 1) if goes_on else {}
        found = {measure: earlier[measure] for measure in left if measure in earlier}
        for measure, said in own.items():
            highest = _of_measure(sheet, measure).at_its_highest
            found[measure] = at_its_highest(said[0], earlier.get(measure, [])) if highest else said
        self._asked[key] = found
        return found


def _is_origin(sheet: Sheet) -> bool:
    return bool(sheet.proves) and not any(one.at_its_highest for one in sheet.proves)


def _of_measure(sheet: Sheet, measure: str) -> Proof:
    return next((one for one in sheet.proves if one.measure == measure), Proof(measure=measure))


def at_its_highest(own: Evidence, earlier: Sequence[Evidence]) -> list[Evidence]:
    """The higher of what a record says itself and what is known of what it was made from; of what nobody knows, that
    it is no lower than its own."""
    known = [one if float(one.value) > float(own.value) else replace(own, share=one.share) for one in earlier]
    rest = 1.0 - sum(one.share for one in known)
    return [*known, replace(own, share=rest, or_more=True)] if rest > LEAST_SHARE else known


def _own(record: Record, sheet: Sheet, measures: frozenset[str]) -> Known:
    """What a record says of itself."""
    proofs = [one for one in sheet.proves if one.measure in measures]
    if not proofs:
        return {}
    version = version_in_books(record) if record.state == State.WAITING else _newest(record)
    typed: dict[str, str] = json.loads(version.values)
    rows: list[dict[str, str]] = json.loads(version.rows)
    found: Known = {}
    for one in proofs:
        values = _values(record, sheet, one, typed, rows)
        if values:
            found[one.measure] = [Evidence(value, record.number, 1.0 / len(values)) for value in values]
    return found


def _newest(record: Record) -> Version:
    return Version.objects.filter(record=record).order_by("serial").latest("serial")


def _values(
    record: Record, sheet: Sheet, proof: Proof, typed: Mapping[str, str], rows: list[dict[str, str]]
) -> list[float | str]:
    if proof.words:
        return [proof.words]
    if proof.figure:
        figure = Figure.objects.standing().filter(
            name=proof.figure, movement__record_kind=record.kind, movement__record_number=record.number
        )
        return [value / MILLIONTHS for value in figure.values_list("value_millionths", flat=True)[:1]]
    of_lines = {one.name for one in sheet.row_fields}
    if proof.field in of_lines:
        text = ", ".join(dict.fromkeys(row[proof.field] for row in rows if row.get(proof.field)))
    else:
        text = typed.get(proof.field, "")
    if not text:
        return []
    field = sheet.field(proof.field)
    if field.kind != Kind.NUMBER:
        return [text]
    try:
        return [float(read_number(field, text))]
    except Unreadable:
        return []
