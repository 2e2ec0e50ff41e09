"""Vatting: what is in several vats or receivers brought together in one, all gauged before and after.

What left is judged against what came; bulk contracts on mixing, so strength and bulk after it are what mass and alcohol
make of the parts.
"""

from __future__ import annotations

from datetime import datetime
from typing import Final

from batches.sheets import fields
from batches.sheets.cautions import STATIC, VAPOUR
from batches.sheets.parts import Item
from batches.sheets.results import Result, comes_to
from batches.sheets.sheet import Gauge, Moment, Note, Phase, Posting, Problem, Role, Section, Sheet
from batches.sheets.typed.completed import Completed
from batches.steps.shared.ages import age_shown, youngest_of
from batches.steps.shared.figures import Compared, Figure, Held, against
from batches.steps.shared.judged import what_left
from batches.steps.shared.still_charges import gauged, worked_out
from batches.steps.shared.vat_pictures import parts_of_the_vat
from batches.steps.shared.vats import both_or_none, gave, mixed, not_mixed, part, stages_said, two_strengths
from distillery import figures
from distillery.alcoholometry.mixing import Blend, Part, blend
from distillery.charts.parts import Parts
from distillery.pages import LOOK, Fact
from ledger.posting.accounts import difference, gauging
from ledger.posting.drafts import FigureTaken

OPERATION: Final = "vatting"
VAT: Final = "vat"
FROM: Final = ("first", "second", "third", "fourth")


def givers(written: Completed) -> list[str]:
    """The names of the vessels that were written, in order: 'first', 'second'."""
    return [one for one in FROM if written.has(f"{one}_vessel")]


def vatted(written: Completed) -> Posting:
    """Every vessel brought to its gauges; what left and did not come is the difference."""
    named = givers(written)
    before = [written.taken(f"{one}_before", gauging(written.vessel(f"{one}_vessel"))) for one in named]
    after = [
        written.taken(f"{one}_after", difference(OPERATION), stage=written.vessel(f"{one}_vessel").stage)
        for one in named
    ]
    vat = written.vessel(VAT)
    return Posting(
        (
            *before,
            written.taken("vat_before", gauging(vat)),
            *after,
            written.taken("vat_after", difference(OPERATION), stage=written.vessel(f"{named[0]}_vessel").stage),
        ),
        figures=compared(written),
        judged=what_left(written, "what left the vats", *((f"{one}_before", f"{one}_after") for one in named)),
    )


def compared(written: Completed) -> tuple[FigureTaken, ...]:
    """Strength and bulk of the vat beside what mass and alcohol make of its parts."""
    named = givers(written)
    gauges = [(written, "vat_after"), (written, "vat_before")]
    gauges += [(written, f"{one}_{when}") for one in named for when in ("before", "after")]

    def of_parts(*held: Held) -> Blend:
        there, parts = held[1], held[2:]
        came = (
            Part(before.litres - after.litres, before.percent)
            for before, after in zip(parts[::2], parts[1::2], strict=True)
        )
        return blend((there.part, *came))

    def strength() -> tuple[Figure, float]:
        return against(lambda *held: held[0].percent, lambda *held: of_parts(*held).percent20, *gauges)

    def bulk() -> tuple[Figure, float]:
        # The alcohol's own balance holds these dips already.
        figure, expected = against(
            lambda *held: 100.0 * held[0].litres / of_parts(*held).litres20, lambda *held: 100.0, *gauges
        )
        return figure.loose, expected

    found = Compared(written.moment("at"))
    found.with_reading("strength after vatting", strength, field="vat_after_hydrometer_percent", unit="% vol")
    found.with_reading("bulk after vatting", bulk, field="vat_after_dip_mm", unit="%")
    return found.figures


def to_be_right(written: Completed) -> list[Problem]:
    """Each vessel once, and each with both its gauges."""
    problems, seen = both_or_none(written), {written.vessel(VAT): "the vat that all goes into"}
    for one in givers(written):
        name = f"{one}_vessel"
        vessel, label = written.vessel(name), written.sheet.field(name).label
        if vessel in seen:
            problems.append(Problem(name, None, f"{label} is {vessel.code}, {seen[vessel]}; name another, or none."))
        seen.setdefault(vessel, "which is named already")
        for when in ("before", "after"):
            dip = f"{one}_{when}_dip_mm"
            if not (written.has(dip) or written.is_missing(dip)):
                problems.append(Problem(dip, None, f"{written.sheet.field(dip).label} is blank; gauge {vessel.code}."))
    return problems


def facts(written: Completed, now: datetime) -> list[Fact]:
    """What goes in, what it should come to, and what it is made of."""
    return worked_out((lambda: _parts(written), lambda: _mix(written), lambda: mixed(written), lambda: _class(written)))


def _came(written: Completed) -> list[Part]:
    return [gave(written, f"{one}_before", f"{one}_after") for one in givers(written)]


def _parts(written: Completed) -> list[Fact]:
    came = _came(written)
    vat_gained = gauged(written, "vat_after").lpa - gauged(written, "vat_before").lpa
    left = sum(one.lpa for one in came)
    note = f"{figures.number(left, 2)} LPA left, {figures.number(vat_gained, 2)} LPA came"
    if left <= 0:
        return []
    share = 100.0 * (left - vat_gained) / left
    way = "missing" if share >= 0 else "over"
    return [Fact("Difference", figures.percent(abs(share), 2), f"% {way}", note=note)]


def _mix(written: Completed) -> list[Fact]:
    made = blend((part(gauged(written, "vat_before")), *_came(written)))
    note = f"{figures.litres(made.litres20)} L, {figures.litres(made.contraction_litres20)} L less by contraction"
    return [Fact("Strength by the mixing", figures.percent(made.percent20, 2), "% vol", note=note)]


def _class(written: Completed) -> list[Fact]:
    named = [written.vessel(f"{one}_vessel").stage for one in givers(written)]
    if not named:
        return []
    several = len(set(named)) > 1
    note = "spirits of more than one class are brought together" if several else ""
    return [Fact("Class of spirits", stages_said(named), note=note, state=LOOK if several else None)]


def age(written: Completed, now: datetime) -> Result | None:
    """The age of the youngest that comes together, what stood in the vat already among it."""
    at, came = written.moment("at"), [written.vessel(f"{one}_vessel") for one in givers(written)]
    found = youngest_of(written, at=at, vessels=came, beside=[written.vessel(VAT)])
    # Spirit that never was in wood, as gin, is asked for no age.
    return age_shown(found, at) if found is not None and found.in_wood else None


def vat_parts(written: Completed, now: datetime) -> list[Parts]:
    """What came together, by litres, strength and age."""
    return parts_of_the_vat(written, givers(written), VAT)


def to_look_at(written: Completed) -> list[Note]:
    """A vat that was gauged before it was mixed."""
    return not_mixed(written)


def _from(one: str) -> tuple[Item, ...]:
    label = f"From, {one} vessel"
    first = one == FROM[0]
    return (
        fields.vessel(f"{one}_vessel", label, *fields.DIPPED, required=first),
        Gauge(
            prefix=f"{one}_before",
            label=f"{label} before",
            vessel=f"{one}_vessel",
            role=Role.BEFORE,
            optional=not first,
        ),
        Gauge(
            prefix=f"{one}_after", label=f"{label} after", vessel=f"{one}_vessel", role=Role.AFTER, optional=not first
        ),
    )


SHEET = Sheet(
    kind="vatting",
    title="Vatting",
    plural="Vattings",
    operation=OPERATION,
    table="vattings",
    prefix="VT",
    number_column="vatting",
    moments=(Moment(name="vatted", label="Vatting", when="at", phase=Phase.MOVE, post=vatted),),
    sections=(
        Section(
            heading="Into",
            items=(
                fields.when("at", "Vatted at"),
                fields.vessel(VAT, "Vat", *fields.DIPPED),
                Gauge(prefix="vat_before", label="Vat before", vessel=VAT, role=Role.BEFORE),
                Gauge(prefix="vat_after", label="Vat after", vessel=VAT, role=Role.AFTER),
                *two_strengths(),
            ),
        ),
        *(Section(heading=f"From, {one}", items=_from(one)) for one in FROM),
    ),
    cautions=(STATIC, VAPOUR),
    list_columns=("at", "vat", "first_vessel", "second_vessel"),
    after="transfer",
    printed_title="Vatting",
    check=to_be_right,
    note=to_look_at,
    results=(comes_to(facts), age),
    pictures=vat_parts,
)
