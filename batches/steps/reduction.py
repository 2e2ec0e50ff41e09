"""Reduction: water added to a vat, weighed, and the vat gauged before and after mixing.

Water brings mass and no alcohol; volumes contract, so the vat is gauged again rather than added up.
"""

from __future__ import annotations

from batches.sheets import fields
from batches.sheets.cautions import VAPOUR
from batches.sheets.sheet import Gauge, Moment, Phase, Posting, Role, Section, Sheet
from batches.sheets.typed.completed import Completed
from batches.steps.shared.figures import Compared, Figure, Held, against
from batches.steps.shared.judged import contents
from distillery.alcoholometry.mixing import Reduction, reduce_with_water
from distillery.alcoholometry.quantity import Quantity, whole_grams
from distillery.alcoholometry.weighing import litres20_of_true_kilograms, true_kilograms
from ledger.posting.accounts import difference, gauging, water
from ledger.posting.drafts import FigureTaken, Moved

REFERENCE_CELSIUS = 20.0


def water_added(written: Completed) -> Quantity:
    """Water as weighed in air, as mass and bulk without alcohol."""
    kilograms = true_kilograms(kilograms_in_air=written.real("water_kg"), percent20=0.0, celsius=REFERENCE_CELSIUS)
    return Quantity(
        pure_ul=0,
        mass_g=whole_grams(kilograms),
        litres20=litres20_of_true_kilograms(true_kilograms=kilograms, percent20=0.0),
        percent20=0.0,
        uncertainty_ul=0.0,
    )


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
                Gauge(prefix="before", label="Before", vessel="vessel", role=Role.BEFORE),
            ),
        ),
        Section(heading="Water", items=(fields.kilograms("water_kg", "Water added", usual=("1", "20000")),)),
        Section(
            heading="After mixing",
            items=(Gauge(prefix="after", label="After", vessel="vessel", role=Role.AFTER),),
        ),
    ),
    cautions=(VAPOUR,),
    list_columns=("at", "vessel", "target_percent", "water_kg"),
    after="transfer",
    works_contents=True,
    printed_title="Reduction with water",
)
