"""How old the spirit of a record is, as a sheet shows it, and what that proves for names that ask for wood."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from math import floor

from batches.sheets.results import Head, Line, Result, checks_of
from batches.sheets.typed.completed import Completed
from batches.tracing.ages import holds_anything, youngest_in_vessel, youngest_of_record
from distillery import figures
from distillery.clock.reading import site_day
from distillery.pages import Kind, State
from distillery.plant.models import Vessel
from distillery.process.ageing import Age, is_oak, statement_holds, whole_years, years_of_calendar, youngest
from distillery.process.product_names import Checked, Evidence, Outcome, Requirement, Way
from distillery.rules.names import SIZE_OF_CASKS, largest_that_counts

# What names that ask for wood are held to, as rows of `distillery/rules/data/0013` call it.
YEARS_IN_WOOD, WOOD_OF_CASKS = "years in wood", "wood of casks"
OAK = "oak"
STATEMENT = Requirement(
    code="E22",
    said="age on the label, of the youngest",
    measure=YEARS_IN_WOOD,
    way=Way.AT_MOST,
    unit="years",
    source="Scotch Whisky Regulations 2009, regulation 12; assimilated Regulation (EC) 110/2008, Article 12(3), both "
    "from memory",
)
HEADS = (Head("What"), Head("Comes to", figure=True), Head("Counts from"))
NOT_KNOWN = State(Kind.MISSING, "Not proven")


def youngest_of(
    written: Completed, *, at: datetime, vessels: Iterable[Vessel], beside: Iterable[Vessel] = ()
) -> Age | None:
    """The age of the youngest that comes together: as the record took it, or what these vessels hold, where nothing of
    the record is in the books yet; and what stood already in those beside, into which it comes. None where it is not
    known of all of it.
    """
    most = largest_that_counts(site_day(at))
    if most is None:
        return None
    taken = youngest_of_record(written.number, most_litres=most) if written.number else None
    asked = [one for one in ((*vessels, *beside) if taken is None else beside) if holds_anything(one, at)]
    ages = [youngest_in_vessel(one, at, most_litres=most) for one in asked]
    known = [one for one in (taken, *ages) if one is not None]
    return youngest(known) if len(known) == len(ages) + (taken is not None) else None


def proved_by(age: Age | None, at: datetime) -> dict[str, list[Evidence]]:
    """What an age proves: years in wood with the part beyond whole ones, the largest cask, and the wood of all."""
    if age is None:
        return {}
    years = years_of_calendar(site_day(age.began(at)), site_day(at))
    proved = {YEARS_IN_WOOD: [Evidence(years, age.since, or_more=age.or_more)]}
    if age.largest_litres is not None:
        proved[SIZE_OF_CASKS] = [Evidence(age.largest_litres, age.since)]
    if wood := _wood(age):
        proved[WOOD_OF_CASKS] = [Evidence(wood, "the register of casks")]
    return proved


def _wood(age: Age) -> str:
    """Oak where all casks were, or what another was of; blank where the register says nothing of one."""
    another = sorted(one for one in age.woods if one and not is_oak(one))
    if another:
        return another[0]
    return OAK if age.woods and "" not in age.woods else ""


def statement_shown(stated_years: int, age: Age | None, at: datetime) -> Result:
    """The check of an age on the label, as a table."""
    return checks_of("Age on the label", [statement_checked(stated_years, age, at)], "the law and the officer decide")


def age_shown(age: Age | None, at: datetime) -> Result | None:
    """The age of the youngest as a small table, with the years that a label may state."""
    if age is None:
        return None
    began, today = site_day(age.began(at)), site_day(at)
    whole = whole_years(began, today)
    # Cut down and never rounded up, so that no year stands here that is not complete.
    years = floor(100.0 * years_of_calendar(began, today)) / 100.0
    more = " or more" if age.or_more else ""
    state = NOT_KNOWN if age.or_more and not whole else None
    largest = "" if age.largest_litres is None else f"{age.largest_litres:g} L"
    return Result(
        "Age of the youngest",
        HEADS,
        (
            Line(("Time in wood", f"{figures.number(years, 2)} years{more}", age.since), state),
            Line(("Most that a label may state", f"{whole} years" if whole else "none", "")),
            Line(("Largest cask", largest, "")),
        ),
        "time in casks alone counts, from the first filling; the law and the officer decide",
        said_in=1,
    )


def statement_checked(stated_years: int, age: Age | None, at: datetime) -> Checked:
    """Whether an age, in whole years, may stand on a label: pass, fail or not proven."""
    said = f"{stated_years} years"
    if age is None:
        return Checked(STATEMENT, Outcome.NOT_PROVEN, "age not known")
    began, today = site_day(age.began(at)), site_day(at)
    youngest_years = f"the youngest is {whole_years(began, today)}"
    if statement_holds(stated_years, began, today):
        return Checked(STATEMENT, Outcome.PASS, f"{said}; {youngest_years}", age.since)
    outcome = Outcome.NOT_PROVEN if age.or_more else Outcome.FAIL
    return Checked(STATEMENT, outcome, f"{said}; {youngest_years}{' or more' if age.or_more else ''}", age.since)
