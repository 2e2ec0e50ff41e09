"""Of the spirits made in a quarter those made as Scotch whisky and as Irish whiskey ask, and those not proven to be.

The quarter's figures ask of the total how much of it is Scotch and how much Irish (HMRC, description of the figures
that the Alcohol Duty return carries, 2025-26). It is Scotch whisky only once it has matured; what counts here is how it
was made (Scotch Whisky Regulations 2009, SI 2009/2890, regulation 3(1)(a)-(b)): the strength of each run's cut as the
books have it, and what a person has stated of the site. The requirements are those in force on the last day. The law
and the officer decide. Irish whiskey is distilled on the island of Ireland (Irish Whiskey Act 1980, from memory). There
are no requirements of that name here, so that nothing proves it: what is stated to be distilled in Scotland is not
Irish, and of everything else it is not known.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Final

from batches.returns.months import Span
from batches.sheets.register import all_sheets
from distillery.clock.reading import site_day
from distillery.figures import moment
from distillery.process.product_names import Checked, Evidence, Outcome, as_a_whole, check
from distillery.rules.names import SCOTCH, requirements
from distillery.rules.site_facts import Statement
from distillery.rules.stating import statements
from ledger.models import Figure, Movement

STRENGTH: Final = "base strength"
# What the statement of the site says, by the measures that the requirements ask for.
STATED: Final = {"country of distilling": "Scotland", "enzymes": "of the grain", "fermented by": "yeast"}
IRISH: Final = "Irish whiskey"
MILLIONTHS: Final = 1_000_000
WORDS: Final = {
    Outcome.PASS: "made as it asks",
    Outcome.NOT_PROVEN: "not proven to be",
    Outcome.FAIL: "not made as it asks",
}


@dataclass(frozen=True, slots=True)
class OfWhich:
    """So much of what was made is `outcome` for the name, microlitres of pure alcohol, with its movements and why."""

    name: str
    outcome: Outcome
    amount: int
    movements: Mapping[int, int] = field(default_factory=dict)
    why: tuple[str, ...] = ()


def of_which_scotch(span: Span, made: Mapping[int, int]) -> tuple[OfWhich, ...]:
    """What was made, by movement in microlitres, parted by whether it was made as Scotch whisky asks; nothing where
    nothing was made or the site has no requirements of the name. Four queries."""
    asked = requirements(SCOTCH, site_day(span.ends - timedelta(seconds=1)))
    asked = [one for one in asked if one.measure == STRENGTH or one.measure in STATED]
    if not made or not asked:
        return ()
    said, of_site = _of_site()
    records = dict(Movement.objects.filter(pk__in=made).values_list("pk", "record_number"))
    strengths = _strengths(set(records.values()))
    found: dict[Outcome, dict[int, int]] = defaultdict(dict)
    why: dict[Outcome, dict[str, None]] = defaultdict(dict)
    for movement, pure_ul in made.items():
        own = strengths.get(records[movement])
        known = of_site if own is None else of_site | {STRENGTH: [Evidence(own, records[movement])]}
        checked = check(asked, known)
        outcome = as_a_whole(checked)
        found[outcome][movement] = pure_ul
        why[outcome] |= dict.fromkeys(_said(one) for one in checked if one.outcome == outcome != Outcome.PASS)
        why[outcome] |= dict.fromkeys(said)
    return tuple(
        OfWhich(SCOTCH, outcome, sum(found[outcome].values()), found[outcome], tuple(why[outcome]))
        for outcome in Outcome
        if outcome in found
    )


def of_which_irish(made: Mapping[int, int]) -> tuple[OfWhich, ...]:
    """What was made, by movement in microlitres, in one line of Irish whiskey: not made as it asks where the site is
    stated to distil in Scotland, else not proven; nothing where nothing was made. A query."""
    if not made:
        return ()
    said, of_site = _of_site()
    outcome = Outcome.FAIL if of_site else Outcome.NOT_PROVEN
    found = STATED["country of distilling"] if of_site else "not known"
    why = (f"distilled on the island of Ireland: {found}", *said)
    return (OfWhich(IRISH, outcome, sum(made.values()), made, why),)


def _of_site() -> tuple[list[str], dict[str, list[Evidence]]]:
    """Who stated of the site how it makes whisky, or took that back, and when; and what that proves."""
    newest = next(iter(statements(Statement.What.MADE_AS_SCOTCH)), None)
    if newest is None:
        return [], {}
    stands = newest.what == Statement.What.MADE_AS_SCOTCH
    who = f"{newest.person.shown_name}, {moment(newest.entered_at, year=True)}"
    said = f"stated of the site by {who}" if stands else f"what was stated of the site was taken back by {who}"
    return [said], {measure: [Evidence(words, who)] for measure, words in STATED.items()} if stands else {}


def _strengths(numbers: set[str]) -> dict[str, float]:
    """The strength of the cut of each run, % vol, in the figure by which its sheet proves it."""
    names = {
        proof.figure for sheet in all_sheets() if sheet.distils for proof in sheet.proves if proof.measure == STRENGTH
    }
    rows = Figure.objects.standing().filter(name__in=names, movement__record_number__in=numbers)
    values = rows.order_by().values_list("movement__record_number", "value_millionths")
    return {number: value / MILLIONTHS for number, value in values}


def _said(one: Checked) -> str:
    return f"{one.requirement.said}: {one.found}"
