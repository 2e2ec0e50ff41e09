"""What several steps say of washbacks: which one a mash or fermentation is in, and how what they hold is gauged."""

from __future__ import annotations

from batches.sheets.register import sheet_of
from batches.sheets.sheet import Note, Problem
from batches.sheets.typed.completed import Completed, Written
from distillery.plant.models import Kind as VesselKind
from ledger.models import Gauge as Measured
from ledger.posting.accounts import vessel_account
from ledger.posting.gauging import Method


def other_washback(written: Completed, named_by: str, sentence: str) -> list[Note]:
    """A note where the washback is not the one that the record in a field was written with."""
    record = written.record(named_by)
    there = written.site.told(record, "washback")
    washback = written.vessel("washback")
    if not there or there.casefold() == washback.code.casefold():
        return []
    said = sentence.format(record=record.number, there=there, here=washback.code)
    return [Note("washback", None, said, instead=there)]


def holds_wash(written: Written, prefix: str, row: int | None) -> list[Problem]:
    """A problem where a hydrometer gauge is taken of a washback that is not empty: wash is proved by its gravities."""
    gauge = written.sheet.gauge(prefix)
    vessel = written.vessel(gauge.vessel)
    if vessel.kind != VesselKind.WASHBACK or written.dipped(gauge).litres == 0:
        return []
    return [
        Problem(
            gauge.vessel,
            row,
            f"{vessel.code} is a washback: what it holds is declared by its fermentation, so only an empty one is "
            "gauged here.",
        )
    ]


def gauged_as_what_it_is(written: Written, prefix: str, row: int | None) -> list[Problem]:
    """A problem where wash is proved by a hydrometer for spirit, or something else by a gravity of wash."""
    gauge = written.gauge(prefix)
    vessel, hydrometer = written.vessel(gauge.vessel), gauge.name("hydrometer_percent")
    if gauge.by != Method.WASH_DIP:
        said = f"{vessel.code} is no washback; a present gravity is written for wash only, so leave it blank."
        return [Problem(gauge.present_gravity, row, said)] if written.has(gauge.present_gravity) else []
    if not written.has(hydrometer) or written.dipped(gauge).litres == 0:
        return []
    said = (
        f"{vessel.code} holds wash, of which a hydrometer for spirit tells nothing; leave this blank and write its "
        "present gravity."
    )
    return [Problem(hydrometer, row, said)]


def only_noted(written: Written, prefix: str, row: int | None) -> list[Note]:
    """A note where a washback holds wort or fermenting wash: what was read is kept, and nothing of it is posted."""
    held, gauge = written.working(prefix), written.gauge(prefix)
    if held is None:
        return []
    works = sheet_of(held.kind).works_in
    what = works.said if works is not None else "is there"
    said = (
        f"{written.vessel(gauge.vessel).code}: {held.number} {what}; {written.dipped(gauge).litres:.1f} litres by dip "
        "are noted, and no alcohol is in the books before its fermentation is declared."
    )
    return [Note(gauge.vessel, row, said)]


def still_the_last(written: Completed, prefix: str) -> list[Problem]:
    """A problem where a gauge is left blank because it is another record's, and the vessel was gauged since by others
    (or not yet by that record): what it held when this began is then not what was gauged there.
    """
    gauge = written.sheet.gauge(prefix)
    if not gauge.same_of or not written.shares(prefix):
        return []
    name = gauge.fields[0].name
    vessel, record = written.vessel(gauge.vessel), written.record(gauge.same_of)
    last = (
        Measured.objects.standing()
        .filter(
            account__code=vessel_account(vessel).code,
            happened_at__lte=written.moment(written.sheet.moment_of(name).when),
        )
        .exclude(movement__record_number=written.number)
        .select_related("movement")
        .order_by("happened_at", "position")
        .last()
    )
    if last is not None and last.movement.record_number == record.number:
        return []
    other = last.movement.record_number if last is not None else ""
    said = f"was gauged last by {other}, not by {record.number}" if other else f"was not gauged by {record.number} yet"
    return [Problem(name, None, f"{vessel.code} {said}; write its gauge {gauge.when_taken}.")]
