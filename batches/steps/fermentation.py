"""Fermentation: a washback from pitching to the gauge that declares its wash.

Alcohol is made here and enters the books with the final gauge: dip, temperature and both gravities. Usual figures:
original gravity 1.055 to 1.065, final 0.995 to 0.999 (HMRC Spirits Production Manual SPIR4080 asks for dip, original
gravity and temperature, and lets a fermentation that began before it could be read have an addition for work: what was
measured, the addition and its reason stand apart from the gravity they come to); peak about 33 to 34 °C.
"""

from __future__ import annotations

from datetime import timedelta
from math import hypot

from batches.sheets import fields
from batches.sheets.cautions import CARBON_DIOXIDE, CLEANING, CONFINED_SPACE
from batches.sheets.materials.drawn import by_mass, issued_to
from batches.sheets.sheet import (
    By,
    Chart,
    Event,
    Field,
    Gauge,
    Kind,
    Material,
    MaterialKind,
    Moment,
    Note,
    Phase,
    Posting,
    Problem,
    Role,
    Running,
    Section,
    Sheet,
    Works,
)
from batches.sheets.typed.completed import Completed
from batches.steps.shared.fermentation_course import FOAMED_OVER, FOAMING, Course
from batches.steps.shared.fermentation_results import results
from batches.steps.shared.figures import (
    Compared,
    Figure,
    Held,
    from_gauges,
    hours,
    number_in,
    one_reading,
    reading,
    told_number,
)
from batches.steps.shared.malt import predicted_yield
from batches.steps.shared.wash import other_washback
from distillery.plant.models import Kind as VesselKind
from distillery.process.fermenting import YeastForm
from ledger.posting.accounts import source
from ledger.posting.drafts import FigureTaken

# The last gravity logged says something of the final one if it is not older than this.
LOGGED_WITHIN = timedelta(hours=12)
# Gravities are read to the fourth decimal.
FINEST = 0.00005
# A washback that holds far more or less than its mash gave shares its mash, or has another in it too, % of the wort.
OWN_MASH = (70.0, 130.0)

ADDITION = "addition_for_work_degrees"
FOAM = Field(name="foam", label="Foam", kind=Kind.CHOICE, choices=(FOAMING, FOAMED_OVER))
GRAVITY = fields.gravity("gravity", "Gravity", usual=("0.994", "1.075"), falls=True)


def declared(written: Completed) -> Posting:
    """The final gauge of the washback, against what fermentation made."""
    at = written.moment("ended_at")
    return Posting((written.taken("final", source("fermentation"), at=at),), figures=compared(written))


def compared(written: Completed) -> tuple[FigureTaken, ...]:
    """Both gravities beside other readings of the same wort and wash, the alcohol beside what the malt promised."""
    found = Compared(written.moment("ended_at"))
    wort_gravity = told_number(written, written.record("mash"), "wort_gravity")
    if wort_gravity is not None:
        found.with_reading(
            "original gravity beside the wort",
            lambda: (reading(written, "original_gravity"), wort_gravity),
            field="original_gravity",
            unit="SG",
            wider=lambda: one_reading(written, "final", "original_gravity"),
        )
    _beside_the_log(found, written)
    _beside_the_malt(found, written)
    return found.figures


def _beside_the_log(found: Compared, written: Completed) -> None:
    """The final gravity beside the last one logged; where it was still falling, the further fall widens the spread."""
    ended = written.moment("ended_at")
    logged = [
        (at, value)
        for at, typed in written.site.logged(written.number, GRAVITY.name)
        if at <= ended and (value := number_in({GRAVITY.name: typed}, GRAVITY)) is not None
    ]
    if not logged or logged[-1][0] < ended - LOGGED_WITHIN:
        return
    at, last = logged[-1]
    before, higher = next((one for one in reversed(logged) if one[0] < at), (at, last))
    falls = max(0.0, higher - last) * hours(at, ended) / hours(before, at) if before < at else 0.0
    found.with_reading(
        "final gravity beside the last logged",
        lambda: (reading(written, "final_gravity"), last),
        field="final_gravity",
        unit="SG",
        wider=lambda: hypot(one_reading(written, "final", "final_gravity"), falls),
    )


def _beside_the_malt(found: Compared, written: Completed) -> None:
    mash = written.record("mash")
    wort, grist = (told_number(written, mash, name) for name in ("wort_litres", "grist_kg"))
    if not wort or written.gauge_is_missing("final"):
        return

    def of_the_wort() -> Figure:
        return from_gauges(lambda held: 100.0 * held.litres / wort, (written, "final"))

    if not OWN_MASH[0] < of_the_wort().value < OWN_MASH[1]:
        return
    found.with_kind(
        "wash beside the wort", of_the_wort, like=written.vessel("washback").code, field="final_dip_mm", unit="%"
    )
    malt = issued_to(written.site, mash, "malt_lot")
    predicted = by_mass(malt, lambda lot: predicted_yield(written, lot))
    if grist and predicted:

        def reached(held: Held) -> float:
            return 100.0 * held.lpa / (grist / 1000.0 * predicted)

        found.with_kind(
            "share of the predicted yield",
            lambda: from_gauges(reached, (written, "final")),
            like=" and ".join(sorted({written.site.told(lot.record, "kind") for lot in malt})),
            field="final_gravity",
            unit="%",
        )


def addition_explained(written: Completed) -> list[Problem]:
    """An addition for work goes to a gravity that was measured, and says why."""
    if not written.has(ADDITION) or not written.real(ADDITION):
        return []
    if not written.has("measured_gravity"):
        return [
            Problem("measured_gravity", None, "An addition for work is written, and no measured gravity: write it.")
        ]
    if not written.has("addition_reason"):
        return [Problem("addition_reason", None, "An addition for work is written without its reason: write why.")]
    return []


def to_look_at(written: Completed) -> list[Note]:
    """What is unlikely on the sheet as a whole."""
    return [*same_washback(written), *not_the_sum(written), *not_steady(written)]


def not_the_sum(written: Completed) -> list[Note]:
    """An original gravity that is not the measured one with its addition."""
    if not (written.has("measured_gravity") and written.has("original_gravity")):
        return []
    added = written.real(ADDITION) / 1000.0 if written.has(ADDITION) else 0.0
    summed = written.real("measured_gravity") + added
    if abs(summed - written.real("original_gravity")) < FINEST:
        return []
    said = f"Measured {written.real('measured_gravity'):.4f} and {1000 * added:g}° for work come to {summed:.4f}."
    return [Note("original_gravity", None, said, instead=f"{summed:.4f}")]


def not_steady(written: Completed) -> list[Note]:
    """A declaration before two gravities far enough apart agreed, where gravities were read at all."""
    if not (written.has("ended_at") and written.has("final_gravity") and written.has("pitched_at")):
        return []
    course = Course(written, written.moment("ended_at"))
    if len(course.gravities) < 2 or course.steady is not None:
        return []
    said = "Final gravity is not steady yet: the wash may still be fermenting; read again six hours after the last."
    return [Note("final_gravity", None, said)]


def same_washback(written: Completed) -> list[Note]:
    """A washback other than the one the mash went to may be a slip of the pen."""
    return other_washback(written, "mash", "{record} was sent to {there}, not to {here}.")


SHEET = Sheet(
    kind="fermentation",
    title="Fermentation",
    plural="Fermentations",
    operation="fermentation",
    table="fermentations",
    prefix="FE",
    number_column="fermentation",
    moments=(
        Moment(name="set", label="Pitching", when="pitched_at", phase=Phase.BEGINNING),
        Moment(name="declared", label="Declaration of the wash", when="ended_at", phase=Phase.RUN_OFF, post=declared),
    ),
    sections=(
        Section(
            heading="Pitching",
            items=(
                fields.record("mash", "Mash", "mash", figures_from=True),
                fields.vessel("washback", "Washback", VesselKind.WASHBACK),
                fields.name("yeast_lot", "Yeast lot", lot=True, required=False),
                fields.kilograms("yeast_kg", "Yeast", usual=("1", "500"), required=False),
                Field(
                    name="yeast_form",
                    label="Form of the yeast",
                    kind=Kind.CHOICE,
                    choices=tuple(YeastForm),
                    required=False,
                    help="A weight of yeast says nothing without it.",
                ),
                fields.when("pitched_at", "Pitched at"),
                fields.gravity(
                    "measured_gravity",
                    "Measured gravity",
                    usual=("1.045", "1.075"),
                    required=False,
                    help="As it was read, where yeast had begun to work before.",
                ),
                fields.number(ADDITION, "Addition for work", "degrees", high="30", usual=("0", "5"), required=False),
                fields.text("addition_reason", "Reason of the addition", required=False),
                fields.gravity(
                    "original_gravity",
                    "Original gravity",
                    usual=("1.050", "1.075"),
                    help="With any addition for work in it.",
                ),
                fields.number(
                    "set_dip_mm", "Dip at setting", "mm", decimals=0, high=fields.MOST_MILLIMETRES, required=False
                ),
                fields.celsius("set_celsius", "Temperature at setting", usual=("16", "24"), required=False),
            ),
        ),
        Section(
            heading="End of fermentation",
            moment="declared",
            items=(
                fields.when("ended_at", "Ended at", not_before="pitched_at"),
                fields.gravity("final_gravity", "Final gravity", usual=("0.994", "1.000")),
                Gauge(
                    prefix="final",
                    label="Final gauge",
                    vessel="washback",
                    role=Role.AFTER,
                    taken="at the end",
                    by=By.WASH_DIP,
                    usual_celsius=("15", "35"),
                ),
            ),
        ),
    ),
    readings=(
        GRAVITY,
        fields.celsius("celsius", "Temperature", low="0", high="60", usual=("15", "35")),
        fields.number("ph", "pH", "", low="1", high="10", usual=("3.8", "6")),
        FOAM,
    ),
    running=Running(
        state="Fermenting",
        every=timedelta(hours=6),
        by_hours=True,
        events=(
            Event(name="foam", label="Foaming", said="Foaming noted", again=FOAM.name, says=FOAMING),
            Event(name="foam_over", label="Foamed over", said="Foaming over noted", again=FOAM.name, says=FOAMED_OVER),
        ),
    ),
    cautions=(CARBON_DIOXIDE, CONFINED_SPACE, CLEANING),
    list_columns=("pitched_at", "mash", "washback", "original_gravity", "final_gravity", "ended_at"),
    after="mash",
    occupies="washback",
    works_in=Works(vessel="washback", said="ferments", litres=("mash", "wort_litres")),
    materials=(
        Material(field="mash"),
        Material(field="yeast_lot", weighed="yeast_kg", kind=MaterialKind.YEAST),
    ),
    tells=("mash", "original_gravity", "final_gravity", "washback"),
    chart=Chart(quantity="gravity", beside="celsius", degrees=True, begun="pitched", also=("ph",)),
    longest=timedelta(days=21),
    needed_in_log=True,
    printed_title="Fermentation record",
    check=addition_explained,
    note=to_look_at,
    results=results,
)
