"""A silo that ran empty: what its books say is left, against what was found in it. Its lots come to nothing by it.

What went through a silo is known to about a part in a hundred, and only an empty silo says how far out its books are
(common practice, no source). A difference beyond the site's figure asks for a reason, and a reason for a second person.
What is left is of the lots put in last.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from batches.sheets import fields
from batches.sheets.cautions import CONFINED_SPACE, GRAIN_DUST
from batches.sheets.results import comes_to
from batches.sheets.sheet import Material, MaterialKind, Moment, Note, Phase, Problem, Section, Sheet
from batches.sheets.typed.completed import Completed
from batches.steps.shared.site_figures import set_figure
from batches.stores.amounts import number, shown
from batches.stores.silos import Through, through
from distillery import figures
from distillery.clock.reading import site_day
from distillery.pages import Fact, Kind, State

DIFFERENCE: Final = "difference of a silo that ran empty"
GRAMS_A_KILOGRAM = 1000
MALT = MaterialKind.MALT


@dataclass(frozen=True, slots=True)
class Emptied:
    """What a silo's books say and what was found in it, grams; `limit` is the site's figure, % of what went through."""

    through: Through
    found: int
    limit: float

    @property
    def difference(self) -> int:
        """What is missing by the books; below nothing, what is over."""
        return self.through.held - self.found

    @property
    def percent(self) -> float:
        """The difference as a share of what went through the silo since it was last found empty."""
        return 100.0 * self.difference / self.through.through if self.through.through else 0.0

    @property
    def is_beyond(self) -> bool:
        """True where the difference is beyond the site's figure."""
        return abs(self.percent) > self.limit

    @property
    def sentence(self) -> str:
        """'By the books 312.0 kg are left of 20,000.0 kg that went through the silo; 0.0 kg were found: ...'"""
        word = "missing" if self.difference >= 0 else "over"
        since = "" if self.through.since is None else " since it was last found empty"
        return (
            f"By the books {shown(MALT, self.through.held)} are left of {shown(MALT, self.through.through)} that went "
            f"through the silo{since}; {shown(MALT, self.found)} were found: "
            f"{figures.number(abs(self.percent), 2)} % {word}."
        )


def emptied(written: Completed) -> Emptied:
    """What a silo that ran empty comes to, what this record says of it left out. Raises NoRuleInForce."""
    at = written.moment("emptied_at")
    return Emptied(
        through(MALT, written.text("silo"), at, without=written.number),
        int(written.decimal("left_kg") * GRAMS_A_KILOGRAM),
        set_figure(DIFFERENCE, site_day(at)),
    )


def to_be_right(written: Completed) -> list[Problem]:
    """Malt was put into the silo, and a difference beyond the site's figure has its reason."""
    here = emptied(written)
    if not here.through.lots:
        said = (
            f"No malt was put into silo {written.text('silo')} since it was last found empty; write the intake first."
        )
        return [Problem("silo", None, said)]
    if here.is_beyond and not written.has("reason"):
        said = f"{here.sentence} That is beyond {here.limit:g} %: write why; a second person agrees to it."
        return [Problem("reason", None, said)]
    return []


def to_look_at(written: Completed) -> list[Note]:
    """A difference beyond the site's figure."""
    here = emptied(written)
    return [Note("left_kg", None, here.sentence)] if here.is_beyond else []


def facts(written: Completed, now: datetime) -> Iterator[Fact]:
    """What went through the silo, what its books say is left, and how far out they are."""
    if not all(written.has(name) for name in ("silo", "emptied_at", "left_kg")):
        return
    here = emptied(written)
    last = here.through.since
    if last is not None:
        left = number(MALT, here.through.left_then)
        yield Fact("Left in it when it last ran empty", left, "kg", note=figures.moment(last))
    put_in = "Put in since" if last is not None else "Put in so far"
    yield Fact(put_in, number(MALT, here.through.put_in), "kg")
    yield Fact("Left by the books of its lots", number(MALT, here.through.held), "kg")
    state = State(Kind.OUT, "Beyond the site's figure") if here.is_beyond else None
    missing = "Missing" if here.difference >= 0 else "Over"
    yield Fact(f"{missing}, by what was found", number(MALT, abs(here.difference)), "kg")
    note = f"Looked into beyond {here.limit:g} % of what went through it"
    yield Fact(f"{missing}, share", figures.number(abs(here.percent), 2), "%", note=note, state=state)


def _results(written: Completed, now: datetime) -> list[Fact]:
    return list(facts(written, now))


SHEET = Sheet(
    kind="silo_emptied",
    title="Emptied silo",
    plural="Emptied silos",
    operation="silo ran empty",
    table="emptied_silos",
    prefix="SE",
    number_column="emptying",
    moments=(Moment(name="emptied", label="Silo empty", when="emptied_at", phase=Phase.COUNT),),
    sections=(
        Section(
            heading="Silo",
            items=(
                fields.name("silo", "Silo"),
                fields.when("emptied_at", "Ran empty at"),
                fields.kilograms(
                    "left_kg",
                    "Left in it",
                    usual=("0", "500"),
                    default="0",
                    help="Weighed as it was swept out or set aside; 0 where nothing was left.",
                ),
                fields.text(
                    "reason",
                    "Reason for a difference",
                    longest=200,
                    required=False,
                    help="Wanted beyond the site's figure; a record with a reason waits for a second person.",
                ),
            ),
        ),
    ),
    cautions=(GRAIN_DUST, CONFINED_SPACE),
    list_columns=("emptied_at", "silo", "left_kg", "reason"),
    after="intake",
    second_where="reason",
    counts=(Material(field="", weighed="left_kg", kind=MALT, found_in="silo"),),
    printed_title="Emptied silo",
    check=to_be_right,
    note=to_look_at,
    results=(comes_to(_results),),
)
