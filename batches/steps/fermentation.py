"""Fermentation: a washback from pitching to the gauge that declares its wash.

Alcohol is made here and enters the books with the final gauge: dip, temperature and both gravities. Usual figures:
original gravity 1.055 to 1.065, final 0.995 to 0.999 (HMRC Spirits Production Manual SPIR4080 asks for dip, original
gravity and temperature); peak about 33 to 34 °C.
"""

from __future__ import annotations

from batches import fields
from batches.cautions import CARBON_DIOXIDE, CLEANING, CONFINED_SPACE
from batches.completed import Completed
from batches.sheet import By, Gauge, Moment, Note, Posting, Role, Section, Sheet
from batches.wash import other_washback
from distillery.plant.models import Kind as VesselKind
from ledger.accounts import source


def declared(written: Completed) -> Posting:
    """The final gauge of the washback, against what fermentation made."""
    at = written.moment("ended_at")
    return Posting((written.taken("final", source("fermentation"), at=at),))


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
        Moment(name="set", label="Pitching", when="pitched_at", order=6),
        Moment(name="declared", label="Declaration of the wash", when="ended_at", order=10, post=declared),
    ),
    sections=(
        Section(
            heading="Pitching",
            items=(
                fields.record("mash", "Mash", "mash"),
                fields.vessel("washback", "Washback", VesselKind.WASHBACK),
                fields.name("yeast_lot", "Yeast lot", lot=True, required=False),
                fields.kilograms("yeast_kg", "Yeast", usual=("1", "500"), required=False),
                fields.when("pitched_at", "Pitched at"),
                fields.gravity("original_gravity", "Original gravity", usual=("1.050", "1.075")),
            ),
        ),
        Section(
            heading="Declaring the wash",
            moment="declared",
            items=(
                fields.when("ended_at", "Ended at", not_before="pitched_at"),
                fields.gravity("final_gravity", "Final gravity", usual=("0.994", "1.000")),
                Gauge(
                    prefix="final",
                    label="Final gauge",
                    vessel="washback",
                    role=Role.AFTER,
                    by=By.WASH_DIP,
                    usual_celsius=("15", "35"),
                ),
            ),
        ),
    ),
    readings=(
        fields.gravity("gravity", "Gravity", usual=("0.994", "1.075")),
        fields.celsius("celsius", "Temperature", low="0", high="60", usual=("15", "35")),
    ),
    cautions=(CARBON_DIOXIDE, CONFINED_SPACE, CLEANING),
    list_columns=("pitched_at", "mash", "washback", "original_gravity", "final_gravity", "ended_at"),
    printed_title="Fermentation record",
    note=same_washback,
)
