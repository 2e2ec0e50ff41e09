"""A cask already maturing when the books are opened: what it held on the day it was filled."""

from __future__ import annotations

from batches.sheets import fields
from batches.sheets.sheet import By, Gauge, Moment, Phase, Posting, Problem, Role, Section, Sheet
from batches.sheets.typed.completed import Completed
from batches.steps.shared.books import full_already
from distillery.plant.models import Kind as VesselKind
from ledger.posting.accounts import source


def opened(written: Completed) -> Posting:
    """What was weighed in at filling, from opening stock into the cask."""
    return Posting((written.weighed(source("opening stock"), written.account("number"), field="gross_kg"),))


def not_yet_full(written: Completed) -> list[Problem]:
    """A cask that holds something cannot be opened with more."""
    sentence = full_already(written.vessel("number"), written.moment("filled_at"), written.number)
    return [Problem("number", None, sentence)] if sentence else []


SHEET = Sheet(
    kind="opening_cask",
    title="Opening cask",
    plural="Opening casks",
    operation="opening stock",
    table="maturing_casks",
    prefix="OC",
    identity=("number",),
    moments=(Moment(name="opened", label="Filling", when="filled_at", phase=Phase.OPENING, post=opened),),
    sections=(
        Section(
            heading="Cask",
            items=(
                fields.vessel("number", "Cask", VesselKind.CASK),
                fields.text("kind", "Kind of cask", required=False),
                fields.count("fill", "Fill", required=False),
                fields.litres("nominal_litres", "Nominal size", required=False),
                fields.text("warehouse", "Warehouse", required=False),
            ),
        ),
        Section(
            heading="At filling",
            items=(
                fields.when("filled_at", "Filled at"),
                Gauge(
                    prefix="",
                    label="Cask",
                    vessel="number",
                    role=Role.AFTER,
                    by=By.WEIGHT_AT_STRENGTH,
                    usual_percent=("40", "75"),
                ),
            ),
        ),
    ),
    list_columns=("filled_at", "number", "kind", "gross_kg", "tare_kg", "percent"),
    after="opening_stock",
    in_plant=True,
    printed_title="Cask in store at opening",
    check=not_yet_full,
)
