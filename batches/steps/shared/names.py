"""What the name a spirit is meant to bear asks for, against what is on record of it: pass, fail or not proven."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

from batches.sheets.results import Result, checks_of
from batches.sheets.sheet import Note
from batches.sheets.typed.completed import Completed
from batches.steps.shared.ages import WOOD_OF_CASKS, YEARS_IN_WOOD, proved_by, youngest_of
from batches.tracing.proofs import Known, at_its_highest, known_in_vessel, known_of_record
from distillery.clock.reading import site_day
from distillery.process.product_names import Checked, Evidence, Outcome, as_a_whole, check
from distillery.rules.names import SIZE_OF_CASKS, name_in_market, requirements

WORD = {Outcome.PASS: "may bear it", Outcome.FAIL: "may not bear it", Outcome.NOT_PROVEN: "is not proven to"}
# The field that says for which market a spirit is meant, where a sheet has one.
MARKET = "market"
NOTE = "the law and the officer decide"


def checked_name(
    written: Completed,
    *,
    at: datetime,
    source: str,
    own: Mapping[str, Sequence[Evidence]],
    highest: Mapping[str, Evidence] | None = None,
) -> list[Checked]:
    """What a name asks for on a day, against what the record says itself and what it was made from.

    `source` is the field of the vessel it is made from, asked where nothing of the record is in the books yet. What the
    record says itself goes before what is known of what it was made from; of `highest` the higher of the two counts.
    Nothing for a record that is meant for no name, or for one that the site has no rule of in its market.
    """
    name = name_meant(written)
    asked = requirements(name, site_day(at)) if name else []
    if not asked:
        return []
    measures = {one.measure for one in asked}
    known: Known = known_of_record(written.number, measures) if written.number else {}
    if not known and written.has(source):
        known = known_in_vessel(written.vessel(source).pk, measures)
    if measures & {YEARS_IN_WOOD, SIZE_OF_CASKS, WOOD_OF_CASKS}:
        made_from = [written.vessel(source)] if written.has(source) else []
        known = {**known, **proved_by(youngest_of(written, at=at, vessels=made_from), at)}
    said = {measure: list(some) for measure, some in own.items() if some}
    said |= {measure: at_its_highest(one, known.get(measure, [])) for measure, one in (highest or {}).items()}
    return check(asked, {**known, **said})


def name_meant(written: Completed) -> str:
    """The name that a record is meant to bear, with the market it is meant for where that has rules of its own."""
    name, sheet = written.text("legal_name"), written.sheet
    return name_in_market(name, written.text(MARKET)) if name and sheet.has_field(MARKET) else name


def no_rules_of_market(written: Completed, at: datetime, name: str) -> list[Note]:
    """A market of which the site has no rules for a name: nothing is then proven of it."""
    market = written.text(MARKET)
    if not market or requirements(name_in_market(name, market), site_day(at)):
        return []
    said = (
        f"Not proven: the site has no rules of what {name} has to be in {market}. Enter them under Site, What names "
        f"need, as those of {name_in_market(name, market)}, or send it to a market that it has rules of."
    )
    return [Note(MARKET, None, said)]


def needs_of_name(name: str, checked: Sequence[Checked]) -> Result | None:
    """The checks as a table; nothing where there are none."""
    if not checked:
        return None
    return checks_of(f"What {name} needs", checked, f"as it stands it {WORD[as_a_whole(checked)]}; {NOTE}")


def name_failed(name: str, checked: Sequence[Checked]) -> list[Note]:
    """What stands against the name that a record is meant for."""
    said = [f"{one.requirement.said} {one.found}" for one in checked if one.outcome == Outcome.FAIL]
    if not said:
        return []
    return [Note("legal_name", None, f"Hold: it may not be called {name} as it stands: {'; '.join(said)}.")]
