"""Cleaning of a vessel: with what, how strong and how hot, and that its rinse was checked. No alcohol moves.

Caustic soda is usually used at 1 to 3 % by weight and 60 to 85 °C; rinse water is run until it reads as the water that
goes in, near pH 7 (both common practice, no source). Assimilated Regulation 852/2004 article 5 asks a site to write
down what it does at its own control points, residues of cleaning among them (from memory).
"""

from __future__ import annotations

from datetime import timedelta

from batches.sheets import fields
from batches.sheets.cautions import CARBON_DIOXIDE, CLEANING, CONFINED_SPACE, HOT_LIQUOR
from batches.sheets.sheet import Cleans, Field, Kind, Moment, Note, Phase, Problem, Running, Section, Sheet
from batches.sheets.typed.completed import Completed
from batches.steps.shared.books import book_without
from distillery import figures
from distillery.plant.models import Kind as VesselKind
from ledger.posting.accounts import vessel_account

CLEAN = "clean"
# What has to be rinsed away and proved to be gone.
CHEMICAL = ("caustic", "acid", "detergent")
ANY_VESSEL = (*fields.DIPPED_OR_WASHBACK, VesselKind.STILL.value)


def emptied_first(written: Completed) -> list[Problem]:
    """Nothing is cleaned while its book holds alcohol: that would be lost, or the book is what is wrong."""
    vessel = written.vessel("vessel")
    held = book_without(vessel_account(vessel), written.moment("begun_at"), written.number).pure_ul
    if held <= 0:
        return []
    return [
        Problem(
            "vessel",
            None,
            f"{vessel.code} holds {figures.lpa(held)} litres of pure alcohol by its book when it is cleaned. "
            "Write where that went first, or gauge the vessel.",
        )
    ]


def rinsed(written: Completed) -> list[Note]:
    """A chemical whose strength or whose rinse nobody wrote down, and a rinse that was not clean."""
    notes = []
    agent = written.text("agent")
    if agent in CHEMICAL and not written.has("strength_percent"):
        notes.append(Note("strength_percent", None, f"No strength of the {agent} is written."))
    if written.has("ended_at"):
        if agent in CHEMICAL and not written.has("rinse_ph"):
            notes.append(
                Note("rinse_ph", None, f"{agent.capitalize()} was used and no pH of the last rinse is written.")
            )
        if written.text("rinse_found") not in ("", CLEAN):
            code = written.vessel("vessel").code
            notes.append(Note("rinse_found", None, f"The rinse was not clean: {code} stands as still to be cleaned."))
    return notes


SHEET = Sheet(
    kind="cleaning",
    title="Cleaning",
    plural="Cleanings",
    operation="cleaning",
    table="cleanings",
    prefix="CL",
    number_column="cleaning",
    moments=(
        Moment(name="begun", label="Cleaning", when="begun_at", phase=Phase.BEGINNING),
        Moment(name="rinsed", label="End of cleaning", when="ended_at", phase=Phase.BEGINNING),
    ),
    sections=(
        Section(
            heading="Cleaning",
            items=(
                fields.vessel("vessel", "Vessel", *ANY_VESSEL),
                fields.when("begun_at", "Begun at"),
                fields.text("agent", "Cleaned with", choices=("hot water", "steam", *CHEMICAL), longest=60),
                fields.percent("strength_percent", "Strength", unit="% by weight", usual=("0.5", "4"), required=False),
                fields.celsius(
                    "agent_celsius", "Temperature", low="0", high="150", usual=("10", "100"), required=False
                ),
            ),
        ),
        Section(
            heading="Rinse",
            moment="rinsed",
            items=(
                fields.when("ended_at", "Ended at", not_before="begun_at"),
                fields.litres("rinse_litres", "Rinse water", decimals=0, required=False),
                fields.number("rinse_ph", "pH of the last rinse", "", high="14", usual=("6", "8.5"), required=False),
                Field(name="rinse_found", label="Rinse found", kind=Kind.CHOICE, choices=(CLEAN, "not clean")),
                fields.name("rinse_checked_by", "Rinse checked by"),
                fields.text("rinse_to", "Spent cleaning liquid to", longest=60, required=False),
            ),
        ),
    ),
    readings=(
        fields.celsius("celsius", "Temperature", low="0", high="150", usual=("10", "100")),
        fields.percent("agent_percent", "Strength", unit="% by weight", usual=("0.5", "4")),
    ),
    running=Running(state="Being cleaned", every=timedelta(minutes=30), by_hours=True),
    cautions=(CLEANING, CARBON_DIOXIDE, CONFINED_SPACE, HOT_LIQUOR),
    list_columns=("begun_at", "vessel", "agent", "strength_percent", "rinse_found", "rinse_checked_by", "ended_at"),
    after="transfer",
    occupies="vessel",
    cleans=Cleans(vessel="vessel", found="rinse_found", clean=CLEAN),
    longest=timedelta(days=2),
    printed_title="Cleaning record",
    check=emptied_first,
    note=rinsed,
)
