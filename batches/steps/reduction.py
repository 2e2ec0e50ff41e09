"""Reduction: water added to a vat, weighed, and the vat gauged before and after mixing.

Water brings mass and no alcohol; volumes contract, so the vat is gauged again rather than added up. A batch may be
reduced several times with rests between (1 to 14 days: common practice, no source): each is a record, which
names the one it goes on from.
"""

from __future__ import annotations

from batches.sheets import fields
from batches.sheets.cautions import VAPOUR
from batches.sheets.results import comes_to
from batches.sheets.sheet import Gauge, Moment, Note, Phase, Posting, Problem, Role, Section, Sheet
from batches.sheets.typed.completed import Completed
from batches.steps.shared.figures import Compared, Figure, Held, against
from batches.steps.shared.judged import contents
from batches.steps.shared.reductions import gone_on_from, reduction_facts, strength_by_reduction, water_added
from batches.steps.shared.vats import both_or_none, not_mixed, two_strengths
from distillery.alcoholometry.mixing import Reduction, reduce_with_water
from ledger.posting.accounts import difference, gauging, water
from ledger.posting.drafts import FigureTaken, Moved


def reduced(written: Completed) -> Posting:
    """The vat before, the water, the vat after."""
    vessel = written.vessel("vessel")
    return Posting(
        (
            written.taken("before", gauging(vessel)),
            Moved(water(), written.account("vessel"), water_added(written), field="water_kg"),
            written.taken("after", difference("reduction")),
        ),
        figures=compared(written),
        judged=contents(written, "contents before", "before"),
    )


def compared(written: Completed) -> tuple[FigureTaken, ...]:
    """The gauge after mixing, beside what the gauge before and the water make of it."""
    kilograms = water_added(written).mass_g / 1000

    def mixed(before: Held) -> Reduction:
        return reduce_with_water(before.part, water_kilograms=kilograms)

    def bulk(before: Held, after: Held) -> float:
        return 100.0 * after.litres / mixed(before).litres20

    def strength() -> tuple[Figure, float]:
        return against(lambda before, after: after.percent, lambda before, after: mixed(before).percent20, *gauges)

    def bulk_of_mixing() -> tuple[Figure, float]:
        # The alcohol's own balance holds this dip already.
        figure, expected = against(bulk, lambda before, after: 100.0, *gauges)
        return figure.loose, expected

    gauges = (written, "before"), (written, "after")
    found = Compared(written.moment("at"))
    found.with_reading("strength beside the mixing", strength, field="after_hydrometer_percent", unit="% vol")
    found.with_reading("bulk beside the mixing", bulk_of_mixing, field="after_dip_mm", unit="%")
    return found.figures


def to_be_right(written: Completed) -> list[Problem]:
    """Two strengths or none, and a reduction that goes on from an earlier one."""
    return [*both_or_none(written), *gone_on_from(written)]


def to_look_at(written: Completed) -> list[Note]:
    """A vat that was gauged before it was mixed."""
    return not_mixed(written)


SHEET = Sheet(
    kind="reduction",
    title="Reduction",
    plural="Reductions",
    operation="reduction",
    table="reductions",
    prefix="RE",
    number_column="reduction",
    moments=(Moment(name="reduced", label="Reduction", when="at", phase=Phase.MOVE, post=reduced),),
    sections=(
        Section(
            heading="Before",
            items=(
                fields.when("at", "Reduced at"),
                fields.vessel("vessel", "Vessel", *fields.DIPPED),
                fields.percent("target_percent", "Target strength", usual=("36", "72"), required=False),
                fields.record("goes_on_from", "Goes on from", "reduction", required=False),
                fields.percent(
                    "next_target_percent", "Target of the next reduction", usual=("36", "72"), required=False
                ),
                fields.number("rest_days", "Rest before it", "days", usual=("1", "14"), high="400", required=False),
                Gauge(prefix="before", label="Before", vessel="vessel", role=Role.BEFORE),
            ),
        ),
        Section(heading="Water", items=(fields.kilograms("water_kg", "Water added", usual=("1", "20000")),)),
        Section(
            heading="After mixing",
            items=(Gauge(prefix="after", label="After", vessel="vessel", role=Role.AFTER), *two_strengths()),
        ),
    ),
    cautions=(VAPOUR,),
    list_columns=("at", "vessel", "target_percent", "water_kg"),
    after="transfer",
    works_contents=True,
    printed_title="Reduction with water",
    check=to_be_right,
    note=to_look_at,
    results=(comes_to(reduction_facts),),
    pictures=strength_by_reduction,
)
